"""The figures of the moment, for lamps, board and terminal."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from drainscale.core.drain_side import DrainSide
from drainscale.core.giving import Giving
from drainscale.core.story import Story, stage_fluid
from drainscale.core.weighing import Stage
from drainscale.procedure.cue_facts import Cue
from drainscale.procedure.steps import Step
from drainscale.quantities.calibration import Calibration
from drainscale.quantities.result_quantities import TYPED_IN_U_L
from drainscale.quantities.volume import Weighed, volume_at_20C_L

Interval = tuple[float, float]

# what is still to come is told once a tail is seen: a stage's age, and how fast its flow falls
TAIL_AFTER_S = 15.0
LEAST_POWER = 1.2


@dataclass(frozen=True, slots=True)
class Live:
    """A snapshot at ``t``; ``None`` where nothing is known.

    Volumes are litres at 20 °C (the spill: mL at its own temperature), ``U_...`` expanded
    uncertainties (k = 2), times seconds on the samples' axis.
    """

    t: float
    step: Step
    cue: Cue
    scale_kg: float | None
    drained_20C_L: float | None
    U_drained_20C_L: float | None
    added_20C_L: float | None
    U_added_20C_L: float | None
    target_20C_L: float | None
    spilled_mL: float | None
    flow_mL_per_min: float | None
    still_to_come_mL: float | None
    pan_C: float | None
    pan_age_s: float | None
    scale_age_s: float | None
    fluid_C: float | None
    U_fluid_C: float | None
    opens_s: float | None
    opens_90: Interval | None
    closes_s: float | None
    closes_90: Interval | None
    finishes_s: float | None
    p_finish_in_window: float | None
    cold_enough_s: float | None
    faults: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Amounts:
    """The volumes of a snapshot with their expanded uncertainties."""

    drained_L: float | None = None
    U_drained_L: float | None = None
    added_L: float | None = None
    U_added_L: float | None = None


def amounts_now(
    story: Story, drain: Calibration, giving: Giving | None, jugs: Calibration
) -> Amounts:
    """Drained and added so far; quick enough to be asked for every second."""
    drained = U_drained = added = U_added = None
    if story.drains:
        drained = story.drained_20C_L
        U_drained = _U_of_stages(story, drain)
    lost_kg = giving.surely_lost_kg if giving is not None else 0.0
    if lost_kg > 0.0 or story.added_by_hand:
        fluid_C, u_C = story.new_fluid
        weighed = Weighed(
            lost_kg, jugs.u_weights_kg(0.0, lost_kg), sqrt(2.0) * jugs.settings.repeatability_u_kg
        )
        volume = volume_at_20C_L(weighed, story.fluid, fluid_C, u_C)
        typed_u = TYPED_IN_U_L * sqrt(len(story.added_by_hand))
        added = volume.value + story.typed_20C_L
        U_added = 2.0 * sqrt(volume.u**2 + typed_u**2)
    return Amounts(drained, U_drained, added, U_added)


def _U_of_stages(story: Story, calibration: Calibration) -> float:
    gained = sum(stage.gained_kg for stage in story.drains)
    first, last = story.drains[0].weighings[0], story.drains[-1].weighings[-1]
    beside = sqrt(sum(one.u_kg**2 for stage in story.drains for one in stage.unweighed))
    weighed = Weighed(
        gained,
        calibration.u_weights_kg(first.from_kg, last.to_kg),
        sqrt(2.0) * calibration.settings.repeatability_u_kg,
        beside,
    )
    return volume_at_20C_L(weighed, story.fluid, *stage_fluid(story.drains[0])).U


def flow_now_mL_per_min(story: Story, drain: DrainSide, t: float) -> float | None:
    """The flow onto the platform; ``None`` while none runs."""
    stage = drain.receiving.stage
    if stage is None or stage.ended_s is not None:
        return None
    check = story.attempt
    if stage.step is Step.LEVEL and check is not None:
        modelled = check.flow_mL_per_min(t)
        if modelled is not None:
            return modelled
    per_L = story.shown_kg_per_L(story.fluid_now(t)[0])
    return drain.receiving.flow_kg_per_s(t) / per_L * 60_000.0


def still_to_come_mL(story: Story, drain: DrainSide, t: float) -> float | None:
    """What the running drain stage would still give, by the law of its tail."""
    tail, stage = drain.receiving.tail, drain.receiving.stage
    if tail is None or stage is None or stage.step is Step.LEVEL or stage.ended_s is not None:
        return None
    if tail.since_s < TAIL_AFTER_S or tail.power < LEAST_POWER:
        return None  # the bulk still runs: the tail's law would give any figure
    per_L = story.shown_kg_per_L(story.fluid_now(t)[0])
    return max(tail.still_to_come_kg(), 0.0) / per_L * 1000.0


def spilled_now_mL(story: Story, spills: Sequence[Stage], t: float) -> float | None:
    """What has spilled so far, at its own temperature."""
    if not spills:
        return None
    per_L = story.shown_kg_per_L(story.fluid_now(t)[0])
    return sum(max(stage.gained_kg, 0.0) for stage in spills) / per_L * 1000.0
