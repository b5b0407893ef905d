"""Starting over: the window went by, so plug shut, engine off, cool, warm again.

A recording holds of it what it holds of all that people do: the step that begins. So a mark of
``warm`` means "let it cool" where only that helps, and the wait ends by what the pan says.
"""

from math import inf

from drainscale.core.level_check import FAILED
from drainscale.core.story import Story
from drainscale.procedure.events import CoolDown, CoolingEnded, EngineStarted
from drainscale.procedure.gate_facts import cold_start_limit_C
from drainscale.procedure.steps import Mode, Step

# so long a rise has to last that nobody announced: a door opened, or the sun on the pan, ends;
# and while it is still too warm to start, the heat of a hot case may show for minutes
SURE_AFTER_S = 60.0
SURE_WHILE_WARM_AFTER_S = 300.0
STANDS_K = 3.0  # no engine that runs lets the fluid cool so far
WARMS_K_PER_S = 0.01  # slower than any engine at idle warms what is below the window


class Cooling:
    """Begins and ends the waits of one service.

    Args:
        story: The service.
    """

    def __init__(self, story: Story) -> None:
        self._story = story
        self._warms_since_s: float | None = None
        self._peak_C = -inf  # since the plug was shut
        self._has_stopped = False  # the engine, without a word, after the plug was shut

    @property
    def is_on(self) -> bool:
        """Whether the engine stands, for the fluid to cool or cold enough by now."""
        return self._story.steps.procedure.now.is_standing

    def is_meant(self, t: float) -> bool:
        """Whether a mark of ``warm`` at ``t`` says that the wait begins.

        After an attempt that came too late; or while it warms, said once more with the fluid
        above the window before anybody opened the plug.
        """
        story = self._story
        last = story.attempts[-1] if story.attempts else None
        if story.step in (Step.LEVEL, Step.SEAL):
            return last is not None and (last.is_too_late or self._is_above_window(t))
        return story.step is Step.WARM and not self.is_on and self._is_above_window(t)

    def begin(self, t: float) -> None:
        """The plug is shut and the engine off, from ``t`` on."""
        story = self._story
        check = story.attempt
        story.move(CoolDown(), t)
        if check is not None:  # never opened: the next warm-up is another attempt
            check.shut(t)
        story.temperature.engine_stopped(t)

    def tick(self, t: float) -> None:
        """Look whether the fluid is cold enough, or the engine was started without a word."""
        story, procedure = self._story, self._story.steps.procedure
        now = story.temperature.at(t)
        is_cold = now is not None and now.fluid_C <= cold_start_limit_C(story.job.procedure)
        if procedure.mode is Mode.COOLING and is_cold:
            procedure.apply(CoolingEnded())
        known_s = story.temperature.rise_known_s
        sure_after_s = SURE_WHILE_WARM_AFTER_S
        if procedure.mode is not Mode.COOLING:
            sure_after_s = SURE_AFTER_S
        if known_s is not None and t - known_s >= sure_after_s:
            story.move(EngineStarted(), t)

    def is_done_again(self, t: float) -> bool:
        """Whether, the plug shut after an attempt that failed, a cooler fluid warms once more.

        That nobody announced it makes it no less another attempt.
        """
        story = self._story
        last = story.attempts[-1] if story.attempts else None
        now = story.temperature.at(t)
        if story.step is not Step.SEAL or last is None or last.verdict not in FAILED:
            self._warms_since_s, self._peak_C, self._has_stopped = None, -inf, False
            return False
        if self._has_stopped:
            known_s = story.temperature.rise_known_s
            return known_s is not None and t - known_s >= SURE_AFTER_S
        if now is None:
            return False
        self._peak_C = max(self._peak_C, now.fluid_C)
        if now.fluid_C < self._peak_C - STANDS_K:
            self._has_stopped = True
            story.temperature.engine_stopped(t)
        return self._has_warmed_below_window(t, now.fluid_C)

    def _has_warmed_below_window(self, t: float, fluid_C: float) -> bool:
        """Whether the engine ran on after a plug was shut too early."""
        rate = self._story.temperature.rate_K_per_s(t) or 0.0
        if fluid_C >= self._story.job.procedure.window_C[0] or rate < WARMS_K_PER_S:
            self._warms_since_s = None
            return False
        if self._warms_since_s is None:
            self._warms_since_s = t
        return t - self._warms_since_s >= SURE_AFTER_S

    def cold_enough_s(self, t: float) -> float | None:
        """Say when the fluid is cold enough to start the engine; ``None`` while it runs."""
        story = self._story
        now = story.steps.procedure.now
        if now.is_engine_on or now.step.place > Step.WARM.place:
            return None
        return story.temperature.cools_to_s(t, cold_start_limit_C(story.job.procedure))

    def _is_above_window(self, t: float) -> bool:
        now = self._story.temperature.at(t)
        return now is not None and now.fluid_C > self._story.job.procedure.window_C[1]
