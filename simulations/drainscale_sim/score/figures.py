"""The figures that the measuring core is held to, as data.

Each names what is tallied, how it is reduced, the limit that must be met and the one that is
aimed at. *Must* and *aim* are this project's own numbers: the aim is what a causal estimator
reaches that was given the physics behind the recordings.
"""

from dataclasses import dataclass
from typing import Literal

How = Literal["median", "mean", "max", "p5", "p90", "p95", "share", "per recording"]


@dataclass(frozen=True, slots=True)
class Bound:
    """What a figure may be: not below ``low``, not above ``high``, where given."""

    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure: its name, what it is reduced from, and its limits (in ``unit``)."""

    name: str
    unit: str
    key: str
    how: How
    must: Bound
    aim: Bound | None = None


def _most(name: str, unit: str, key: str, how: How, must: float, aim: float) -> Figure:
    return Figure(name, unit, key, how, Bound(high=must), Bound(high=aim))


def _least(name: str, unit: str, key: str, how: How, must: float, aim: float) -> Figure:
    return Figure(name, unit, key, how, Bound(low=must), Bound(low=aim))


def _pair(
    name: str, unit: str, key: str, must: tuple[float, float], aim: tuple[float, float]
) -> tuple[Figure, Figure]:
    """Median and 90th percentile of one error's size."""
    return (
        _most(f"{name}, median", unit, key, "median", must[0], aim[0]),
        _most(f"{name}, p90", unit, key, "p90", must[1], aim[1]),
    )


def _covers(name: str, key: str, must: float, aim: float) -> Figure:
    return Figure(name, "%", key, "share", Bound(must, 99.5), Bound(aim, 99.0))


def _opens(ahead_s: int, must: tuple[float, ...], aim: tuple[float, ...]) -> tuple[Figure, ...]:
    """Median, p90, share that holds and mean width of the opening forecast."""
    name, key = f"opens in {ahead_s} s", f"opens_{ahead_s}"
    holds = Figure(
        f"{name}: holds",
        "%",
        f"{key}.holds",
        "share",
        Bound(must[2], 99.5),
        Bound(aim[2], 99.0),
    )
    return (
        *_pair(f"{name}", "s", f"{key}.abs_error_s", (must[0], must[1]), (aim[0], aim[1])),
        holds,
        _most(f"{name}: width", "s", f"{key}.width_s", "mean", must[3], aim[3]),
    )


QUANTITIES = (
    *_pair("drained volume", "mL", "drained_mL.abs_error", (5.0, 12.0), (4.0, 10.5)),
    *_pair("stage mass", "g", "stage_g.abs_error", (0.5, 2.0), (0.37, 1.15)),
    *_pair("added mass", "g", "added_g.abs_error", (0.5, 1.4), (0.33, 0.9)),
    *_pair("net", "mL", "net_mL.abs_error", (1.2, 3.6), (0.85, 2.2)),
    _covers("drained: U covers truth", "drained_mL.within_U", 90.0, 93.0),
    _covers("added: U covers truth", "added_mL.within_U", 90.0, 93.0),
    _covers("net: U covers truth", "net_mL.within_U", 88.0, 93.0),
    _covers("spill: U covers truth", "spill_mL.within_U", 87.0, 93.0),
    _covers("fluid: U covers truth", "fluid_K.within_U", 88.0, 94.0),
    _most("drained: mean U", "mL", "drained_mL.U", "mean", 14.0, 12.0),
    _most("added: mean U", "mL", "added_mL.U", "mean", 16.0, 13.8),
    _most("net: mean U", "mL", "net_mL.U", "mean", 4.5, 3.2),
    _most("spill: mean U", "mL", "spill_mL.U", "mean", 4.0, 2.8),
    *_pair("drip time", "s", "drip_s.abs_error", (22.0, 70.0), (15.0, 50.0)),
    _most("drip time: missed", "%", "drip.missed", "share", 4.5, 3.0),
)

FORECASTS = (
    *_opens(240, (35.0, 120.0, 82.0, 190.0), (22.0, 80.0, 88.0, 155.0)),
    *_opens(120, (22.0, 75.0, 84.0, 130.0), (16.0, 58.0, 88.0, 108.0)),
    *_opens(60, (16.5, 62.0, 82.0, 105.0), (14.0, 50.0, 88.0, 88.0)),
    _most("fluid, median", "K", "fluid_K.abs_error", "median", 0.6, 0.46),
    _most("fluid: mean U", "K", "fluid_K.U", "mean", 1.9, 1.6),
    _most("finish in 60 s, median", "s", "finishes_60.abs_error_s", "median", 16.0, 9.0),
    _most("finish in 30 s, median", "s", "finishes_30.abs_error_s", "median", 8.0, 5.0),
    _most("finish in window: Brier", "", "p_finish.brier", "mean", 0.10, 0.055),
)

CUES = (
    _most("open-plug: below window", "%", "open_plug.below_lower", "share", 7.0, 4.0),
    _most("open-plug: above, median", "K", "open_plug.above_lower_K.usual", "median", 1.5, 1.3),
    _most("open-plug: ... hot job", "K", "open_plug.above_lower_K.hot", "median", 3.0, 2.6),
    _least("close-plug: of limit, p5", "", "close_plug.flow_to_limit", "p5", 0.58, 0.85),
    _most("close-plug: ... p95", "", "close_plug.flow_to_limit", "p95", 1.25, 1.12),
    _least("close-plug: 0.8 to 1.2", "%", "close_plug.near_limit", "share", 80.0, 92.0),
    _most("close-plug: delay, median", "s", "close_plug.abs_delay_s", "median", 2.5, 1.5),
    _most("close-plug: delay, p95", "s", "close_plug.abs_delay_s", "p95", 12.0, 8.0),
    _least("will-overrun: found", "%", "will_overrun.clear_found", "share", 93.0, 100.0),
    _most("will-overrun: false", "%", "will_overrun.clear_false", "share", 5.0, 1.5),
    _least("will-overrun: lead, median", "s", "will_overrun.lead_s", "median", 50.0, 65.0),
    _least("no-spill: found, marked", "%", "no_spill.marked_found", "share", 100.0, 100.0),
    _most("no-spill: false", "%", "no_spill.false", "share", 0.0, 0.0),
    _most("no-spill: delay, median", "s", "no_spill.delay_s", "median", 40.0, 30.0),
    _least("window-closing: in time", "%", "window_closing.in_time", "share", 90.0, 97.0),
    _least("refill-reached: within 2 s", "%", "refill_reached.in_time", "share", 90.0, 100.0),
    _most("refill-reached: false", "%", "refill_reached.false", "share", 4.0, 0.0),
    _least("container-full: found", "%", "container_full.found", "share", 95.0, 100.0),
    _least("verdict: right, clear", "%", "verdict.clear_right", "share", 95.0, 98.0),
)

SENSORS = (
    _least("scale faults: found", "%", "fault.scale.found", "share", 97.0, 100.0),
    _least("pan faults: found", "%", "fault.pan.found", "share", 94.0, 100.0),
    _most("faults: false alarms", "/rec.", "fault.false_alarms", "per recording", 0.05, 0.0),
    _least("placed: found", "%", "placed.found", "share", 95.0, 99.0),
    _least("lifted: found", "%", "lifted.found", "share", 95.0, 99.0),
    _least("disturbed: found", "%", "disturbed.found", "share", 85.0, 95.0),
    _most("placed: stray", "/rec.", "placed.stray", "per recording", 0.5, 0.1),
    _most("lifted: stray", "/rec.", "lifted.stray", "per recording", 0.5, 0.1),
    _most("disturbed: stray", "/rec.", "disturbed.stray", "per recording", 0.5, 0.1),
    _most("replay, 45 min at 80/s", "s", "replay_80Hz_s", "median", 6.0, 2.0),
)

# What the measuring core is held to in the long run.
REACH = QUANTITIES + FORECASTS + CUES + SENSORS

# What a first version has to hold at least.
FIRST = (
    Figure("drained: U covers truth", "%", "drained_mL.within_U", "share", Bound(low=90.0)),
    Figure("drained volume, median", "mL", "drained_mL.abs_error", "median", Bound(high=10.0)),
    Figure("added mass, median", "g", "added_g.abs_error", "median", Bound(high=5.0)),
    Figure("open-plug: outside window", "%", "open_plug.outside", "share", Bound(high=10.0)),
    Figure("open-plug: ... worst", "K", "open_plug.outside_by_K", "max", Bound(high=2.0)),
    Figure("close-plug: 0.5 to 1.5", "%", "close_plug.about_right", "share",
           Bound(low=200 / 3)),
    Figure("verdict: right", "%", "verdict.right", "share", Bound(low=85.0)),
)  # fmt: skip

# Without a limit of their own: what the errors above do not show, because nothing was told.
BESIDE = tuple(
    Figure(name, "%", key, "share", Bound())
    for name, key in (
        ("drained volume: not told", "drained_mL.null"),
        ("added mass: not told", "added_g.null"),
        ("net: not told", "net_mL.null"),
        ("flow-started of a drain stage: not told", "flow_started.missed"),
        ("opens in 120 s: not told", "opens_120.missing"),
        ("fluid temperature: not told", "fluid_K.null"),
        ("forecast older than 10 s", "forecast.slot_missing"),
        ("window-near: not told", "window_near.missed"),
        ("open-plug: not told", "open_plug.missed"),
        ("close-plug: not told", "close_plug.missed"),
        ("close-plug: where none is due", "close_plug.not_due"),
        ("window-closing: not told", "window_closing.missed"),
        ("window-closing: false", "window_closing.false"),
        ("container-full: false", "container_full.false"),
        ("sensor-restored: told", "fault.restored"),
    )
)
