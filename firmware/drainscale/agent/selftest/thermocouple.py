"""The self-test of the clamp-on thermocouple and its converter."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise

from drainscale.agent.selftest.findings import Findings, Part
from drainscale.errors import SensorError
from drainscale.ports import Clock, Thermometer
from drainscale.quantities.samples import PanFaultKind

LISTEN_S = 8.0
EVERY_S = 0.5  # as the agent reads it
SLOWEST_S = 2.0  # between two readings; after 5 s a value counts as stale
BAD_SHARE = 0.1
PLAUSIBLE_C = (-20.0, 160.0)
BOARD_C = (-20.0, 70.0)
APART_K = 15.0  # at room temperature: sensor 4 K, cold junction 2 K, and a bench in a draught
FASTEST_K_PER_S = 5.0

MEND = {
    "open": "a lead of the thermocouple is off or broken",
    "short-to-ground": "the junction touches metal: put the insulating pad under it",
    "short-to-supply": "a lead of the thermocouple touches 3.3 V",
}


@dataclass(slots=True)
class Readings:
    """What came in so many seconds."""

    times_s: list[float] = field(default_factory=list)
    pan_C: list[float] = field(default_factory=list)
    board_C: list[float] = field(default_factory=list)
    faults: Counter[PanFaultKind] = field(default_factory=Counter)
    frames: int = 0
    bad: int = 0


def check_thermocouple(
    open_it: Callable[[], Thermometer], clock: Clock, *, is_warm: bool = False
) -> Findings:
    """Test the thermocouple.

    Args:
        open_it: Opens its converter.
        clock: The bench's clock.
        is_warm: It is clamped to something warm: it cannot be held against the air.
    """
    part = Part("thermocouple")
    try:
        thermometer = open_it()
    except SensorError as error:
        yield part.fail("opens", str(error))
        return
    try:
        readings = listen(thermometer, clock)
    except SensorError as error:
        yield part.fail("reads", str(error))
        return
    finally:
        thermometer.close()
    yield from judge(part, readings, is_warm=is_warm)


def listen(thermometer: Thermometer, clock: Clock) -> Readings:
    """Read for ``LISTEN_S``.

    Raises:
        SensorError: The converter is not there.
    """
    readings = Readings()
    end_s = clock.now_s() + LISTEN_S
    while clock.now_s() < end_s:
        due_s = clock.now_s() + EVERY_S
        frame = thermometer.read()
        readings.frames += 1
        if frame is None:
            readings.bad += 1
        else:
            readings.board_C.append(frame.board_C)
            if frame.fault is not None:
                readings.faults[frame.fault] += 1
            elif frame.pan_C is not None:
                readings.times_s.append(clock.now_s())
                readings.pan_C.append(frame.pan_C)
        clock.sleep(due_s - clock.now_s())
    return readings


def judge(part: Part, readings: Readings, *, is_warm: bool) -> Findings:
    """Judge readings."""
    bad, frames = readings.bad, readings.frames
    yield part.judge(
        "frames",
        bad <= BAD_SHARE * frames,
        f"{bad} of {frames} frames empty or with a wrong check sum",
        "look at plug and cable, its 3.3 V, and the pull-up of 2.2 kOhm",
    )
    if bad == frames:
        return
    kinds = ", ".join(f"{kind} {n} times" for kind, n in sorted(readings.faults.items()))
    mend = "; ".join(MEND[kind] for kind in sorted(readings.faults))
    yield part.judge("junction", not readings.faults, kinds or "no fault reported", mend)
    low, high = BOARD_C
    board_C = readings.board_C[-1]
    yield part.judge(
        "converter",
        all(low <= one <= high for one in readings.board_C),
        f"its own temperature is {board_C:.1f} °C",
        f"not {low:g} to {high:g} °C: a wrong part on the bus, or it lies on something hot",
    )
    if readings.pan_C:
        yield from _temperatures(part, readings, board_C, is_warm=is_warm)


def _temperatures(part: Part, readings: Readings, board_C: float, *, is_warm: bool) -> Findings:
    pan_C, times_s = readings.pan_C, readings.times_s
    longest_s = max((b - a for a, b in pairwise(times_s)), default=LISTEN_S)
    yield part.judge(
        "pace",
        longest_s <= SLOWEST_S,
        f"{len(pan_C)} readings, at most {longest_s:.1f} s apart",
        "the bus loses readings: look at plug, cable and pull-up",
    )
    low, high = PLAUSIBLE_C
    yield part.judge(
        "range",
        all(low <= one <= high for one in pan_C),
        f"{min(pan_C):.2f} to {max(pan_C):.2f} °C",
        f"not {low:g} to {high:g} °C: wrong type of thermocouple, or its leads are swapped",
    )
    steps = [
        abs(after - before) / (t - s)
        for (s, before), (t, after) in pairwise(zip(times_s, pan_C, strict=True))
    ]
    fastest = max(steps, default=0.0)
    yield part.judge(
        "steady",
        fastest <= FASTEST_K_PER_S,
        f"changes by {fastest:.2f} K/s at most",
        f"more than {FASTEST_K_PER_S:g} K/s: a loose lead, or it picks up interference",
    )
    if is_warm:
        yield part.not_asked("against air", "it is clamped to something warm")
        return
    apart_K = pan_C[-1] - board_C
    yield part.judge(
        "against air",
        abs(apart_K) <= APART_K,
        f"{apart_K:+.1f} K from its converter",
        f"cold, at most {APART_K:g} K: leads swapped, or give --warm if it lies on a warm pan",
    )
