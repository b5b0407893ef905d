"""Compare found faults, knocks and moved containers with what happened to the sensors."""

from drainscale_sim.score.answer import Answer
from drainscale_sim.score.matching import Stretch, joined, nearest, outside, widened
from drainscale_sim.score.tally import Tally
from drainscale_sim.score.truth import Truth

MERGED_UNDER_S = 2.0
MUST_SHOW_S = {"pan": 3.0, "scale": 5.0, "supply": 5.0}  # shorter faults need not be found
MOVED_FITS_S = 6.0
SHAKING = ("knock", "touch", "moved")  # vibration and the pump may be told, need not be


def judge_sensors(answer: Answer, truth: Truth, tally: Tally) -> None:
    """Compare everything of one recording that is about the sensors themselves."""
    for sensor in sorted({fault.sensor for fault in truth.faults}):
        _faults(answer, truth, tally, sensor)
    _false_alarms(answer, truth, tally)
    _disturbed(answer, truth, tally)
    _moved(answer, truth, tally)
    _stray_flow(answer, truth, tally)


def _faults(answer: Answer, truth: Truth, tally: Tally, sensor: str) -> None:
    stretches = [(f.start_s, f.end_s) for f in truth.faults if f.sensor == sensor]
    told, restored = answer.times("sensor-fault", sensor), answer.times("sensor-restored", sensor)
    for start_s, end_s in joined(stretches, MERGED_UNDER_S):
        if end_s - start_s < MUST_SHOW_S.get(sensor, 5.0):
            continue
        hits = [t for t in told if start_s - 1.0 <= t <= end_s + 2.0]
        tally.count(f"fault.{sensor}.found", bool(hits))
        if hits:
            tally.add("fault.delay_s", hits[0] - start_s)
        tally.count("fault.restored", any(start_s < t <= end_s + 15.0 for t in restored))


def _false_alarms(answer: Answer, truth: Truth, tally: Tally) -> None:
    stray = 0
    for told in answer.events:
        if told.event == "sensor-fault":
            real = [(f.start_s, f.end_s) for f in truth.faults if f.sensor == told.sensor]
            stray += outside([told.t], widened(real, 1.0, 10.0))
    tally.count("fault.false_alarms", stray)


def _around(truth: Truth) -> list[Stretch]:
    """Return the stretches in which a rejected reading is nothing to wonder about."""
    shaken = [(d.start_s, d.end_s) for d in truth.disturbances]
    moved = [(t, t) for t in truth.placed_s + truth.lifted_s]
    failed = [(f.start_s, f.end_s) for f in truth.faults]
    return widened(shaken, 2.0, 5.0) + widened(moved, 3.0, 5.0) + widened(failed, 2.0, 5.0)


def _disturbed(answer: Answer, truth: Truth, tally: Tally) -> None:
    told = answer.times("disturbed")
    showing = [(d.start_s, d.end_s) for d in truth.disturbances if d.kind in SHAKING and d.shows]
    for start_s, end_s in joined(showing, MERGED_UNDER_S):
        tally.count("disturbed.found", any(start_s - 1.0 <= t <= end_s + 4.0 for t in told))
    tally.count("disturbed.stray", outside(told, _around(truth)))


def _moved(answer: Answer, truth: Truth, tally: Tally) -> None:
    real = [(t, t) for t in truth.placed_s + truth.lifted_s]
    near = widened(real, 6.0, 6.0) + _around(truth)
    for event, true_times in (("placed", truth.placed_s), ("lifted", truth.lifted_s)):
        told = answer.times(event)
        tally.count(f"{event}.stray", outside(told, near))
        for true_s in true_times:
            tally.count(f"{event}.found", nearest(told, true_s, MOVED_FITS_S) is not None)


def _stray_flow(answer: Answer, truth: Truth, tally: Tally) -> None:
    times, refill = truth.times, truth.refill
    runs = widened([(s.started_s, s.ended_s) for s in truth.drained.stages], 20.0, 20.0)
    runs += widened([(times.plug_opened_s, times.plug_shut_s)], 5.0, 5.0)
    runs += widened([(refill.pump_start_s, refill.pump_end_s)], 10.0, 10.0)
    tally.count("flow_started.stray", outside(answer.times("flow-started"), runs))
