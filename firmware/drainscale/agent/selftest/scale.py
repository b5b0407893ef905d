"""The self-test of one scale: ten seconds of conversions against what a sound cell gives."""

from collections.abc import Callable
from statistics import fmean

from drainscale.agent.selftest.findings import Finding, Findings, Part, Person
from drainscale.agent.selftest.scale_data import (
    Conversions,
    MAINS_Hz,
    alias_Hz,
    amplitude_at,
    collect,
    missed,
    noise,
    rate_Hz,
    slope_per_s,
    spikes,
)
from drainscale.errors import SensorError
from drainscale.ports import Clock, LoadCell
from drainscale.quantities.calibration import Calibration
from drainscale.quantities.job import ScaleSettings

LISTEN_S = 10.0
LOOK_S = 2.0
LEAST_N = 20  # fewer say nothing about noise
LOWEST, HIGHEST = -(1 << 23), (1 << 23) - 1  # both ends: input out of range (HX711 data sheet)

RATE_OFF = 0.25  # the converter's oscillator may be a fifth off (its data sheet gives no limit)
MISSED_SHARE = 0.05
SPIKE_SHARE = 0.01
FEWEST_VALUES = 4  # the converter's own noise spreads a steady load over dozens of counts
# Shares of the capacity; for 20 kg: noise 1 g, hum 0.6 g, drift 2 g/min, zero 400 g. A sound cell
# shows 0.1 to 0.3 g of noise; the rest is for the floor it stands on (common practice, no source).
NOISE_SHARE = 5e-5
HUM_SHARE = 3e-5
DRIFT_SHARE_PER_MIN = 1e-4
ZERO_SHARE = 0.02
LEAST_LOAD_kg = 0.1
# Input for full scale: +-0.5 x supply / 128 (HX711 data sheet), that is 3.906 mV/V for 2^23 counts
FULL_SCALE_mV_PER_V = 1000.0 * 0.5 / 128.0
SIGNAL_mV_PER_V = (0.4, 3.9)  # of a load cell at its capacity: 1 to 3 mV/V are made
SLOPES_DIFFER = 0.02


def check_scale(
    name: str,
    open_it: Callable[[], LoadCell],
    settings: ScaleSettings,
    clock: Clock,
    person: Person,
    *,
    is_loaded: bool = False,
) -> Findings:
    """Test a scale.

    Args:
        name: ``drain`` or ``supply``.
        open_it: Opens its converter.
        settings: What the bench file says of it.
        clock: The bench's clock.
        person: Who puts a load on, if anybody is there.
        is_loaded: Something is to stay on the platform: its zero cannot be judged.
    """
    part = Part(f"{name} scale")
    yield from _calibration(part, settings)
    try:
        cell = open_it()
    except SensorError as error:
        yield part.fail("opens", str(error))
        return
    try:
        yield part.judge("opens", True, f"read by {cell.way}", "")
        data = collect(cell, clock, LISTEN_S)
        yield from judge(part, data, settings, is_loaded=is_loaded)
        if data and person.is_there:
            yield _load(part, cell, settings, clock, person)
        elif data:
            yield part.not_asked("load", "needs somebody who puts a load on")
    except SensorError as error:
        yield part.fail("reads", str(error))
    finally:
        cell.close()


def judge(
    part: Part, data: Conversions, settings: ScaleSettings, *, is_loaded: bool = False
) -> Findings:
    """Judge conversions."""
    if len(data) < LEAST_N:
        yield part.fail(
            "reads",
            f"{len(data)} conversions in {LISTEN_S:g} s, {data.dropped} invalid frames",
            "is its plug in, has the converter 3.3 V, is the load cell wired to it?",
        )
        return
    yield from _in_time(part, data, settings)
    yield from _signal(part, data)
    if LOWEST in data.counts or HIGHEST in data.counts or len(set(data.counts)) < FEWEST_VALUES:
        return  # grams of such counts mean nothing
    yield from _grams(part, data, settings)
    yield _zero(part, fmean(data.counts), settings, is_loaded=is_loaded)


def _in_time(part: Part, data: Conversions, settings: ScaleSettings) -> Findings:
    found_Hz, due_Hz = rate_Hz(data.times_s), settings.rate_Hz
    yield part.judge(
        "rate",
        abs(found_Hz / due_Hz - 1.0) <= RATE_OFF,
        f"{found_Hz:.1f} conversions/s, rate_Hz is {due_Hz:g}",
        "set the converter's rate jumper, or rate_Hz in the bench file",
    )
    lost = missed(data.times_s)
    yield part.judge(
        "complete",
        lost <= MISSED_SHARE * (len(data) + lost),
        f"{lost} of {len(data) + lost} conversions missed, {data.dropped} frames invalid",
        "shorten the cable to the converter, look at its ground and 3.3 V; is the board busy?",
    )


def _signal(part: Part, data: Conversions) -> Findings:
    saturated = data.counts.count(LOWEST) + data.counts.count(HIGHEST)
    yield part.judge(
        "in range",
        saturated == 0,
        f"{saturated} of {len(data)} conversions at the end of the range",
        "a wire of the bridge is off (E+, E-, A+, A-), or the cell is overloaded",
    )
    distinct = len(set(data.counts))
    yield part.judge(
        "alive",
        distinct >= FEWEST_VALUES,
        f"{distinct} different values among {len(data)}",
        "the converter repeats itself: look at its clock wire and supply, change the converter",
    )
    single = spikes(data.counts)
    yield part.judge(
        "spikes",
        single <= SPIKE_SHARE * len(data),
        f"{single} of {len(data)} readings stand alone",
        "bit errors: keep its wires away from sounder and lamps, look at the ground",
    )


def _grams(part: Part, data: Conversions, settings: ScaleSettings) -> Findings:
    calibration = Calibration(settings)
    grams = [1000.0 * calibration.indicated_kg(count) for count in data.counts]
    capacity_g = 1000.0 * settings.capacity_kg
    rms_g = noise(grams)
    yield part.judge(
        "noise",
        rms_g <= NOISE_SHARE * capacity_g,
        f"{rms_g:.2f} g, at most {NOISE_SHARE * capacity_g:.2g} g",
        "away from fans and compressors; the cell's screen to the converter's ground",
    )
    per_s, u_per_s = slope_per_s(data.times_s, grams)
    limit = DRIFT_SHARE_PER_MIN * capacity_g
    yield part.judge(
        "drift",
        60.0 * (abs(per_s) - 3.0 * u_per_s) <= limit,
        f"{60.0 * per_s:+.2f} g/min, at most {limit:.2g} g/min",
        "nothing may touch the platform or drip on it; let the cell warm up for 10 minutes",
    )
    yield _hum(part, data, grams, HUM_SHARE * capacity_g)


def _hum(part: Part, data: Conversions, grams: list[float], limit_g: float) -> Finding:
    found_Hz = rate_Hz(data.times_s)
    worst_g, at_Hz = 0.0, 0.0
    for mains_Hz in MAINS_Hz:
        seen_Hz = alias_Hz(mains_Hz, found_Hz)
        if seen_Hz is not None:
            amplitude_g = amplitude_at(data.times_s, grams, seen_Hz)
            worst_g, at_Hz = max((worst_g, at_Hz), (amplitude_g, mains_Hz))
    said = f"{worst_g:.2f} g at {at_Hz:g} Hz, at most {limit_g:.2g} g"
    if at_Hz == 0.0:
        said = f"cannot show at {found_Hz:.1f} conversions/s"
    return part.judge(
        "mains hum", worst_g <= limit_g, said, "lay its cable away from mains; screen to ground"
    )


def _zero(part: Part, count: float, settings: ScaleSettings, *, is_loaded: bool) -> Finding:
    calibration, capacity_kg = Calibration(settings), settings.capacity_kg
    kg, limit_kg = calibration.indicated_kg(count), ZERO_SHARE * capacity_kg
    said = f"reads {kg:+.3f} kg"
    if -limit_kg <= kg <= (capacity_kg if is_loaded else limit_kg):
        return part.judge("zero", True, said, "")
    if abs(calibration.indicated_kg(-count)) <= limit_kg:
        mend = "with the sign turned it would be zero: are the wires A+ and A- swapped?"
    elif is_loaded:
        mend = "more than it is made for, or below zero: unload it and calibrate"
    else:
        mend = f"empty, it must be within {limit_kg:.2g} kg: take all off, else calibrate anew"
    return part.fail("zero", said, mend)


def _load(
    part: Part, cell: LoadCell, settings: ScaleSettings, clock: Clock, person: Person
) -> Finding:
    calibration = Calibration(settings)

    def reading_kg() -> float:
        data = collect(cell, clock, LOOK_S)
        if not data:
            raise SensorError(f"{part.name}: stopped giving conversions")
        return fmean(calibration.indicated_kg(count) for count in data.counts)

    before_kg = reading_kg()
    person.does(f"Put about 1 kg on the {part.name}, let go of it.")
    rise_kg = reading_kg() - before_kg
    person.does(f"Take it off the {part.name} again.")
    if rise_kg < -LEAST_LOAD_kg:
        mend = "a load must not make it lighter: swap the wires A+ and A-, then calibrate anew"
    else:
        mend = "does the platform rest on its stops, is the cell the right way up?"
    return part.judge("load", rise_kg >= LEAST_LOAD_kg, f"the load reads {rise_kg:+.3f} kg", mend)


def _calibration(part: Part, settings: ScaleSettings) -> Findings:
    masses, counts = settings.calibration_kg, settings.calibration_counts
    slopes = [
        (counts[i + 1] - counts[i]) / (masses[i + 1] - masses[i]) for i in range(len(masses) - 1)
    ]
    mean = (counts[-1] - counts[0]) / (masses[-1] - masses[0])
    signal = abs(mean) * settings.capacity_kg / (1 << 23) * FULL_SCALE_mV_PER_V
    low, high = SIGNAL_mV_PER_V
    yield part.judge(
        "signal",
        low <= signal <= high,
        f"calibration makes {signal:.2f} mV/V at {settings.capacity_kg:g} kg",
        f"a cell gives {low:g} to {high:g}: is capacity_kg right, and were the weights in kg?",
    )
    full = Calibration(settings).count_at(settings.capacity_kg)
    yield part.judge(
        "headroom",
        LOWEST < full < HIGHEST,
        f"count {full:.0f} at capacity",
        "beyond the converter's range: capacity_kg or the zero is wrong",
    )
    worst = max(abs(slope / mean - 1.0) for slope in slopes)
    yield part.judge(
        "line",
        worst <= SLOPES_DIFFER,
        f"calibration points within {100.0 * worst:.2f} % of a line",
        "a weight or a count was written down wrong: calibrate anew",
    )
