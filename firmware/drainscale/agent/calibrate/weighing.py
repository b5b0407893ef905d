"""Weights on and off a platform, and what their counts say."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import fmean

from drainscale.agent.selftest.findings import Person
from drainscale.agent.selftest.scale_data import collect, noise
from drainscale.errors import InputError, SensorError
from drainscale.ports import Clock, LoadCell
from drainscale.quantities.job import ScaleSettings
from drainscale.quantities.linearity import check_linearity

LEAST_N = 20  # conversions; fewer say nothing
# shares of the capacity: for 20 kg 5 g off a line, 3 g between up and down (common practice)
OFF_LINE_SHARE = 2.5e-4
UP_DOWN_SHARE = 1.5e-4


@dataclass(frozen=True, slots=True)
class Reading:
    """What a scale gave under one weight."""

    kg: float
    counts: float  # mean
    noise_counts: float  # from conversion to conversion


def readings(
    open_it: Callable[[], LoadCell],
    clock: Clock,
    person: Person,
    weights_kg: Sequence[float],
    *,
    seconds: float,
) -> Iterator[Reading]:
    """Ask for one weight after the other and read the scale under each.

    Raises:
        SensorError: The scale cannot be read.
    """
    cell = open_it()
    try:
        for kg in weights_kg:
            what = f"Put {kg:g} kg in the middle" if kg else "Take everything off the platform"
            person.does(f"{what}, let go, wait until it is still.")
            data = collect(cell, clock, seconds)
            if len(data) < LEAST_N:
                raise SensorError(
                    f"{len(data)} conversions in {seconds:g} s, {LEAST_N} needed: try the self-test"
                )
            yield Reading(kg, fmean(data.counts), noise(data.counts))
    finally:
        cell.close()


@dataclass(frozen=True, slots=True)
class Outcome:
    """A new calibration, and whether it can be believed."""

    settings: ScaleSettings
    off_line_kg: float  # largest distance of a point from one line; 0 with two points
    up_down_kg: float  # largest difference between two readings of the same weight

    @property
    def complaints(self) -> list[str]:
        """What speaks against it, a line each."""
        found, capacity_kg = [], self.settings.capacity_kg
        for kg, share, what in (
            (self.off_line_kg, OFF_LINE_SHARE, "a weight is wrong, or something touches"),
            (
                self.up_down_kg,
                UP_DOWN_SHARE,
                "the cell creeps or is not warm, or something touches",
            ),
        ):
            if kg > share * capacity_kg:
                found.append(
                    f"{1000 * kg:.1f} g, at most {1000 * share * capacity_kg:.1f} g: {what}"
                )
        return found


def outcome(taken: Sequence[Reading], present: ScaleSettings, u_kg: float) -> Outcome:
    """Join readings to a calibration; those of the same weight are averaged.

    Args:
        taken: Of two weights or more.
        present: What the bench file says now: capacity, rate and repeatability stay.
        u_kg: Standard uncertainty of each weight.

    Raises:
        InputError: Fewer than two weights, or counts that do not rise or fall with them.
    """
    by_kg: dict[float, list[float]] = defaultdict(list)
    for one in taken:
        by_kg[one.kg].append(one.counts)
    masses = sorted(by_kg)
    if len(masses) < 2:
        raise InputError(f"{len(masses)} different weights, at least 2 needed")
    counts = [fmean(by_kg[kg]) for kg in masses]
    steps = [after - before for before, after in pairwise(counts)]
    if not (min(steps) > 0.0 or max(steps) < 0.0):
        raise InputError(f"counts {[round(c) for c in counts]} do not go one way with the weights")
    settings = replace(
        present,
        calibration_kg=tuple(masses),
        calibration_counts=tuple(round(one, 1) for one in counts),
        calibration_u_kg=u_kg,
    )
    kg_per_count = (masses[-1] - masses[0]) / abs(counts[-1] - counts[0])
    up_down = max(max(group) - min(group) for group in by_kg.values()) * kg_per_count
    off = check_linearity(settings).largest_deviation_kg if len(masses) > 2 else 0.0
    return Outcome(settings, off, up_down)


def toml_lines(settings: ScaleSettings) -> Iterator[str]:
    """Write what goes into the bench file."""
    yield f"calibration_kg = [{', '.join(repr(kg) for kg in settings.calibration_kg)}]"
    yield f"calibration_counts = [{', '.join(repr(c) for c in settings.calibration_counts)}]"
    yield f"calibration_u_kg = {settings.calibration_u_kg!r}"
