"""Make a recording of an open-loop run: sensors at their rates, marks by a person."""

from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

from drainscale.quantities.samples import (
    BoardReading,
    PanFault,
    PanReading,
    Sample,
    ScaleCount,
    StepMark,
)
from drainscale_sim.bench_world import Scale
from drainscale_sim.world.world import World

FULL_SCALE = (1 << 23) - 1  # of a 24-bit converter
PAN_EVERY_S, BOARD_EVERY_S = 0.25, 1.0
MOST_S = 4.0 * 3600.0
MARK_OFF_S = 2.5  # standard deviation of a person's timing
MARKED_SHARE = 0.5  # where only some steps are marked
JITTER_S = 0.004  # of a conversion's time


@dataclass(frozen=True)
class Taped:
    """One open-loop run."""

    samples: list[Sample]
    marks: list[tuple[float, str]]
    duration_s: float


def tape(world: World) -> Taped:
    """Run a world to its end and record what its sensors say."""
    samples = list(_readings(world))
    marks = _marks(world)
    samples += [StepMark(t, step) for t, step in marks]
    samples.sort(key=lambda sample: sample.t)
    return Taped(samples, marks, samples[-1].t)


def _readings(world: World) -> Iterator[Sample]:
    rng = Random(f"{world.setup.name} {world.setup.seed} recorder")
    period_s = 1.0 / world.setup.scale.rate_Hz
    scales: list[Scale] = ["drain"]
    if world.setup.bench.has_supply_scale:
        scales.append("supply")
    held: dict[Scale, int] = {}
    turn, next_pan_s, next_board_s = 0, 0.232, 0.003
    while not world.is_over and turn * period_s < MOST_S:
        turn += 1
        t = round(turn * period_s + rng.uniform(-JITTER_S, JITTER_S), 6)
        while next_board_s < t:
            yield BoardReading(next_board_s, round(world.board_C(next_board_s) * 16.0) / 16.0)
            next_board_s = round(next_board_s + BOARD_EVERY_S, 6)
        while next_pan_s < t:
            yield from _pan(world, next_pan_s)
            next_pan_s = round(next_pan_s + PAN_EVERY_S, 6)
        for scale in scales:
            yield from _conversion(world, scale, t, held)


def _conversion(world: World, scale: Scale, t: float, held: dict[Scale, int]) -> Iterator[Sample]:
    fault = world.scale_fault(scale, t)
    if fault == "silent":
        return
    if fault is None or scale not in held:
        counts = round(world.bridge_counts(scale, t))
        held[scale] = max(min(counts, FULL_SCALE), -FULL_SCALE - 1)
    yield ScaleCount(t, held[scale], is_supply=scale == "supply")


def _pan(world: World, t: float) -> Iterator[Sample]:
    fault = world.pan_fault(t)
    if fault is None:
        yield PanReading(t, round(world.pan_skin_C(t) * 4.0) / 4.0)
    elif fault != "silent":
        yield PanFault(t, fault)


def _marks(world: World) -> list[tuple[float, str]]:
    rng = Random(f"{world.setup.name} {world.setup.seed} marks")
    share = {"all": 1.0, "some": MARKED_SHARE, "none": 0.0}[world.setup.marks]
    marks, at = [], 0.0
    for t, step in world.bay.ledger.steps:
        off_s, is_told = rng.gauss(0.0, MARK_OFF_S), rng.random() < share
        if is_told:
            at = round(max(at, t + off_s, 0.0), 3)
            marks.append((at, step))
    return marks
