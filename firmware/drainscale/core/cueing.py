"""The facts from which the procedure decides the cue."""

from drainscale.core.drain_side import DrainSide
from drainscale.core.giving import Giving
from drainscale.core.level_check import LevelCheck, Verdict
from drainscale.core.story import Story
from drainscale.procedure.cue_facts import Facts, PlugState, Window
from drainscale.procedure.steps import Step

GOING_IN_S = 10.0  # strokes of a pump, and of a tired arm, follow each other faster
SOON_S = 30.0


def cue_facts(
    story: Story, drain: DrainSide, giving: Giving | None, *, reached: bool, faulty: bool, t: float
) -> Facts:
    """Gather what the cue at ``t`` depends on."""
    check = story.attempt
    last = story.attempts[-1] if story.attempts else None
    stage = drain.receiving.stage
    loss_s = giving.last_loss_s if giving is not None else None
    target = story.target_20C_L
    now = story.steps.procedure.now
    return Facts(
        step=story.step,
        mode=now.mode,
        plug_state=_plug_state(last),
        window=_window(story, check, t),
        drained_L=story.drained_20C_L if story.drains else None,
        added_L=_added_L(story, giving),
        target_L=target,
        is_engine_running=False if now.is_standing else None,
        awaits_restart=now.awaits_restart,
        is_check_hole_fill=story.job.procedure.fill_via == "check-plug",
        is_flowing=stage is not None and stage.ended_s is None,
        # a filling ends these steps; what seems to leave the container then is the engine's shaking
        is_going_in=loss_s is not None
        and t - loss_s < GOING_IN_S
        and story.step not in (Step.CIRCULATE, Step.WARM),
        has_dripped=stage is not None and stage.dripped_s is not None,
        is_refill_reached=reached,
        is_open_due=check is not None and check.told("open-plug"),
        is_close_due=check is not None and check.told("close-plug"),
        is_thin_soon=_is_thin_soon(check, t),
        will_overrun=check is not None and check.told("will-overrun"),
        is_no_spill=check is not None and check.told("no-spill"),
        is_window_closing=check is not None and check.told("window-closing"),
        is_attempt_failed=last is not None
        and last.is_shut
        and last.verdict is not Verdict.CLOSED_IN_WINDOW,
        is_container_full=drain.container.was_full,
        has_sensor_fault=faulty,
    )


def _added_L(story: Story, giving: Giving | None) -> float | None:
    lost_kg = giving.surely_lost_kg if giving is not None else 0.0
    if lost_kg <= 0.0 and not story.added_by_hand:
        return None
    return lost_kg / story.shown_kg_per_L_20C(story.new_fluid[0]) + story.typed_20C_L


def _plug_state(check: LevelCheck | None) -> PlugState:
    if check is None:
        return PlugState.UNKNOWN
    if check.is_shut:
        return PlugState.SHUT
    return PlugState.OPEN if check.is_open else PlugState.UNKNOWN


def _window(story: Story, check: LevelCheck | None, t: float) -> Window:
    now = story.temperature.at(t)
    if now is None:
        return Window.UNKNOWN
    low_C, high_C = story.job.procedure.window_C
    if now.fluid_C > high_C:
        return Window.ABOVE
    if check is not None and check.told("window-closing"):
        return Window.CLOSING
    if now.fluid_C >= low_C:
        return Window.IN
    near = check is not None and check.told("window-near")
    return Window.NEAR if near else Window.BELOW


def _is_thin_soon(check: LevelCheck | None, t: float) -> bool:
    """Once said it stays said until the end is far off again: a cue must not chatter."""
    if check is None or check.spill_s is None or check.finish[0] is None:
        return False
    ahead_s = check.finish[0] - t
    check.is_thin_soon = 0.0 < ahead_s < (2.0 * SOON_S if check.is_thin_soon else SOON_S)
    return check.is_thin_soon
