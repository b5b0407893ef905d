"""The spill at the level check: its model fed from the scale, and whether it ended at once."""

from math import exp

from drainscale.core.level_check import NO_SPILL_ML, LevelCheck
from drainscale.core.scale_channel import ScaleChannel
from drainscale.core.story import Story
from drainscale.core.weighing import Stage
from drainscale.estimation.levels import Bin
from drainscale.estimation.rim import CHECK_HOLE, STANDPIPE
from drainscale.estimation.spill import Inflow, SpillModel

START_S = 2.6  # of readings before the model starts
MIN_BINS = 4
# what a transmission of a passenger car holds: common practice, no source
SUMP_L = 6.5
SUMP_U_L = 2.0
U_EXCESS_ML = 350.0  # level before the service, foam, what stayed in the cooler
RATE_U_SHARE = 0.3
ENDED_WINDOW_S = 6.0
ENDED_SHARE = 0.2
ENDED_MIN_ML_PER_MIN = 8.0
LATELY_S = 2.1
MIN_SIGMA_G = 0.03


class Spilling:
    """Feeds the model of one spill.

    Args:
        story: What the service knows.
        channel: The scale that it runs onto.
        stage: Its books.
        check: The attempt that it belongs to.
    """

    def __init__(
        self, story: Story, channel: ScaleChannel, stage: Stage, check: LevelCheck
    ) -> None:
        self._story = story
        self._channel = channel
        self._stage = stage
        self._check = check
        self._segment: int | None = None
        self._g0 = 0.0
        self._history: list[tuple[float, float]] = []

    def bin(self, one: Bin) -> bool:
        """Take a half second; return whether the spill has just ended at once."""
        t = one.t
        fluid_C, _ = self._story.fluid_now(t)
        g_per_mL = self._story.shown_kg_per_L(fluid_C)
        self._check.spilled_mL = max(self._stage.gained_kg, 0.0) * 1000.0 / g_per_mL
        model = self._check.model
        if model is None:
            self._start(one, g_per_mL)
            return False
        g = self._stage.gained_kg * 1000.0 - self._g0
        jumped = one.segment != self._segment
        self._segment = one.segment
        model.inflow(self._inflow(t))
        model.reading(t, g, max(one.sigma_kg * 1000.0, MIN_SIGMA_G), jumped=jumped)
        self._note_lately(t, g_per_mL)
        return self._has_ended(t, model, g_per_mL)

    def _start(self, one: Bin, g_per_mL: float) -> None:
        """Begin the model once some readings of the flow are there."""
        if one.t - self._stage.started_s < START_S:
            return
        slope = self._channel.flow.slope(max(self._stage.started_s + 0.4, one.t - 3.0))
        if slope is None or slope.n < MIN_BINS:
            return
        q = max(slope.kg_per_s, 0.0) * 1000.0 / g_per_mL
        u = slope.u_kg_per_s * 1000.0 / g_per_mL
        expected = max(self._expected_mL() - self._check.spilled_mL, 30.0)
        is_pipe = self._story.job.procedure.level_method == "standpipe"
        rim = STANDPIPE if is_pipe else CHECK_HOLE
        self._check.model = SpillModel(
            one.t, q, u, g_per_mL, expected, U_EXCESS_ML, self._inflow(one.t), rim
        )
        self._g0 = self._stage.gained_kg * 1000.0
        self._segment = one.segment

    def _expected_mL(self) -> float:
        """What should stand above the rim: what was added beyond what was drained, warmed."""
        story = self._story
        surplus_L = story.job.procedure.allowance_L
        fluid_C, _ = story.fluid_now(self._stage.started_s)
        warmed_L = SUMP_L * story.fluid.expansion_per_K(fluid_C) * max(fluid_C - 20.0, 0.0)
        return 1000.0 * (surplus_L + warmed_L)

    def _inflow(self, t: float) -> Inflow:
        fluid_C, _ = self._story.fluid_now(t)
        rate = max(self._story.temperature.rate_K_per_s(t) or 0.0, 0.0)
        per_L = 1000.0 * self._story.fluid.expansion_per_K(fluid_C) * rate
        mean = SUMP_L * per_L
        return Inflow(
            mean, max(((SUMP_U_L * per_L) ** 2 + (RATE_U_SHARE * mean) ** 2) ** 0.5, 0.01)
        )

    def _note_lately(self, t: float, g_per_mL: float) -> None:
        slope = self._channel.flow.slope(t - LATELY_S)
        flow = None if slope is None else slope.kg_per_s * 60_000.0 / g_per_mL
        self._check.lately_mL_per_min = flow

    def _has_ended(self, t: float, model: SpillModel, g_per_mL: float) -> bool:
        """Whether a flow that cannot end by itself has: the plug was shut."""
        slope = self._channel.flow.slope(t - ENDED_WINDOW_S)
        if slope is None or slope.n < 8 or slope.t0 < self._stage.started_s + 2.0:
            return False
        foreseen = self._foreseen
        now = slope.kg_per_s * 60_000.0 / g_per_mL
        u = slope.u_kg_per_s * 60_000.0 / g_per_mL
        self._remember(t, model)
        if foreseen is None or foreseen < ENDED_MIN_ML_PER_MIN:
            return False
        if self._check.spilled_mL < NO_SPILL_ML:
            return False  # what stood in the plug runs out with the plug open
        return now < ENDED_SHARE * foreseen and u < 0.1 * foreseen

    @property
    def _foreseen(self) -> float | None:
        """What the model, before the window, made of the flow within it, mL/min."""
        return self._history[0][1] if self._history else None

    def _remember(self, t: float, model: SpillModel) -> None:
        flow = 60.0 * model.flow_mL_per_s(t)[0]
        decline = 60.0 * model.decline_mL_per_s2()
        # a falling spill falls ever slower than exponentially
        foreseen = flow * exp(-max(decline, 0.0) / max(flow, 1e-3) * ENDED_WINDOW_S)
        self._history.append((t, foreseen))
        while t - self._history[0][0] > ENDED_WINDOW_S + 2.0:
            self._history.pop(0)
