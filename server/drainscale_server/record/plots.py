"""The record's three plots: flow, fluid temperature, and the forecasts as they stood. Pure."""

from collections.abc import Callable, Sequence

from drainscale_server.record.drawing import (
    Drawing,
    Point,
    Scale,
    round_steps,
    runs,
    steps_of_ten,
    thinned,
)
from drainscale_server.record.frame import CUE_KEY, KEY_HEIGHT, PLOT_TOP, WIDTH, Frame
from drainscale_server.record.model import Limits, ServiceRecord, TemperaturePoint

FLOW_GAP_S = 8.0
FORECAST_GAP_S = 30.0
WARM_UP_GAP_S = 120.0  # a longer silence of the forecasts: the fluid was left to cool
WARM_UPS_SHOWN = 3
LONG_JOB_S = 2700.0  # from here on the last attempt is drawn larger as well
ABOUT_S = 45.0  # before and after it
PAN_GAP_S = 60.0
LOWEST_ML_PER_MIN = 1.0
FLOW_TITLE = "Flow over the job"
ATTEMPT_TITLE = "Flow of the last attempt"
TEMPERATURE_TITLE = "Fluid temperature"
FORECAST_TITLE = "Forecasts as they stood"
DEGREES = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
TALL, FLAT = PLOT_TOP + 128.0, PLOT_TOP + 96.0  # bottom of the plot


def plots_of(record: ServiceRecord) -> list[Drawing]:
    """Draw all that can be drawn."""
    drawn = [flow_plot(record), last_attempt_plot(record), temperature_plot(record)]
    return [one for one in drawn if one is not None] + forecast_plots(record)


def flow_plot(record: ServiceRecord) -> Drawing | None:
    """Draw the flow on a logarithmic scale, so that stream and drip can both be read.

    Returns:
        The plot; None if no flow is known.
    """
    return _flow_plot(record, FLOW_TITLE, 0.0, record.trends.end_s)


def last_attempt_plot(record: ServiceRecord) -> Drawing | None:
    """Draw the flow of the last attempt larger, if the job was too long to see it otherwise."""
    if record.trends.end_s < LONG_JOB_S or not record.level.attempts:
        return None
    last = record.level.attempts[-1]
    if last.opened.t is None:
        return None
    to_s = record.trends.end_s if last.shut.t is None else last.shut.t
    return _flow_plot(record, ATTEMPT_TITLE, max(last.opened.t - ABOUT_S, 0.0), to_s + ABOUT_S)


def _flow_plot(record: ServiceRecord, title: str, from_s: float, to_s: float) -> Drawing | None:
    known = [one.flow_mL_per_min for one in record.trends.flow if from_s <= one.t <= to_s]
    shown = [flow for flow in known if flow is not None and flow >= LOWEST_ML_PER_MIN]
    if not shown:
        return None
    highest = max(shown)
    values = steps_of_ten(LOWEST_ML_PER_MIN, max(highest, 10.0 * LOWEST_ML_PER_MIN))
    drawing = Drawing(WIDTH, TALL + KEY_HEIGHT, title, _flow_words(record, highest))
    y = Scale(values[0], values[-1], TALL, PLOT_TOP, is_log=True)
    frame = Frame(drawing, from_s, to_s, y)
    frame.grid(values, "flow in mL/min (log)")
    frame.steps(record.steps)
    if record.limits:
        for limit in (record.limits.close_flow_mL_per_min, record.limits.drip_flow_mL_per_min):
            drawing.line("limit", *frame.edge(limit))
    for style, is_filling in (("flow", False), ("fill", True)):
        series = [
            (one.t, one.flow_mL_per_min if _is_shown(one.flow_mL_per_min) else None)
            for one in record.trends.flow
            if one.is_filling == is_filling and frame.shows(one.t)
        ]
        _draw(frame, style, series, FLOW_GAP_S)
    frame.cues(record.cues)
    frame.rim()
    frame.key(
        ("flow", "out of the unit"),
        ("fill", "filled in"),
        ("limit", "limits: thin stream, drip"),
    )
    return drawing


def _is_shown(flow_mL_per_min: float | None) -> bool:
    return flow_mL_per_min is not None and flow_mL_per_min >= LOWEST_ML_PER_MIN


def _flow_words(record: ServiceRecord, highest_mL_per_min: float) -> str:
    words = (
        "Flow in mL/min over the minutes of the job, logarithmic, from the stored samples; at "
        f"most {highest_mL_per_min:.0f} mL/min. Numbers above: steps. Letters above: cues, "
        f"{CUE_KEY}."
    )
    flow = record.level.flow_at_shut_cue_mL_per_min
    return words if flow is None else f"{words} At the shut cue: {flow:.0f} mL/min."


def temperature_plot(record: ServiceRecord) -> Drawing | None:
    """Draw the estimated fluid temperature with U in its window, the pan reading beside it."""
    told, pan = record.trends.temperature, record.trends.pan
    shown = [one.pan_C for one in pan if one.pan_C is not None]
    shown += [C for one in told for C in _band(one) or ()]
    if not shown:
        return None
    if record.limits:
        shown += record.limits.window_C
    values = round_steps(min(shown) - 1.0, max(shown) + 1.0, 9, DEGREES)
    low, high = min([*values, min(shown) - 1.0]), max([*values, max(shown) + 1.0])
    drawing = Drawing(WIDTH, TALL + KEY_HEIGHT, TEMPERATURE_TITLE, _temperature_words(record))
    frame = Frame(drawing, 0.0, record.trends.end_s, Scale(low, high, TALL, PLOT_TOP))
    _window(frame, record.limits)
    frame.grid(values, "°C")
    frame.steps(record.steps)
    for limit in record.limits.window_C if record.limits else ():
        drawing.line("limit", *frame.edge(limit))
    _fill_between(frame, "band", told, _band)
    _draw(frame, "pan", [(one.t, one.pan_C) for one in pan], PAN_GAP_S)
    _draw(frame, "fluid", [(one.t, one.fluid_C) for one in told], FORECAST_GAP_S)
    _open_plugs(frame, record)
    frame.cues(record.cues)
    frame.rim()
    frame.key(
        ("fluid", "estimated fluid temperature"),
        ("band", "± U (k = 2)"),
        ("pan", "pan reading"),
        ("window", "window"),
        ("plug", "level plug open"),
    )
    return drawing


def _window(frame: Frame, limits: Limits | None) -> None:
    if limits is None:
        return
    low, high = limits.window_C
    (left, bottom), (right, _) = frame.edge(low)
    frame.drawing.box("window", left, frame.edge(high)[0][1], right, bottom)


def _open_plugs(frame: Frame, record: ServiceRecord) -> None:
    for attempt in record.level.attempts:
        from_s = attempt.opened.t
        if from_s is None:
            continue
        to_s = record.trends.end_s if attempt.shut.t is None else attempt.shut.t
        left, right = frame.x.at(from_s / 60.0), frame.x.at(to_s / 60.0)
        frame.drawing.box("plug", left, frame.bottom - 5.0, max(right, left + 1.0), frame.bottom)


def _temperature_words(record: ServiceRecord) -> str:
    words = "Estimated fluid temperature with its uncertainty over the minutes of the job."
    if record.limits:
        low, high = record.limits.window_C
        words += f" Window: {low:g} to {high:g} °C."
    shut = record.level.shut_cue
    if shut.fluid_C is not None and shut.U_fluid_C is not None:
        words += f" At the shut cue: {shut.fluid_C:.1f} ± {shut.U_fluid_C:.1f} °C."
    return words


def forecast_plots(record: ServiceRecord) -> list[Drawing]:
    """Draw when the window was expected to open and to close, for each of the last warm-ups."""
    warm_ups: list[list[TemperaturePoint]] = []
    for one in record.trends.temperature:
        if one.opens_s is None and one.closes_s is None:
            continue
        if not warm_ups or one.t - warm_ups[-1][-1].t > WARM_UP_GAP_S:
            warm_ups.append([])
        warm_ups[-1].append(one)
    drawn = [(n, told) for n, told in enumerate(warm_ups, start=1) if len(told) > 1]
    return [
        _forecast_plot(record, told, FORECAST_TITLE + (f", warm-up {n}" if n > 1 else ""))
        for n, told in drawn[-WARM_UPS_SHOWN:]
    ]


def _forecast_plot(record: ServiceRecord, told: list[TemperaturePoint], title: str) -> Drawing:
    """Draw the forecasts of one warm-up, as they stood at each instant."""
    shown = [s for one in told for s in (one.t, one.opens_s, one.closes_s) if s is not None]
    shown += [s for one in told for s in one.opens_90 or ()]
    low, high = min(shown) / 60.0, min(max(shown) / 60.0, told[-1].t / 60.0 + 30.0)
    values = round_steps(low, high, 8, (1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0))
    drawing = Drawing(WIDTH, FLAT + KEY_HEIGHT, title, _forecast_words(told[-1]))
    frame = Frame(drawing, told[0].t, told[-1].t, Scale(low, high, FLAT, PLOT_TOP))
    frame.grid(values, "expected, min")
    frame.steps(record.steps)
    _fill_between(frame, "closes-band", told, lambda one: _minutes(one.closes_90))
    _fill_between(frame, "opens-band", told, lambda one: _minutes(one.opens_90))
    _draw(frame, "closes", [(one.t, _minute(one.closes_s)) for one in told], FORECAST_GAP_S)
    _draw(frame, "opens", [(one.t, _minute(one.opens_s)) for one in told], FORECAST_GAP_S)
    drawing.line(
        "now", frame.at(told[0].t, told[0].t / 60.0), frame.at(told[-1].t, told[-1].t / 60.0)
    )
    frame.cues(record.cues)
    frame.rim()
    frame.key(
        ("opens", "window opens"),
        ("opens-band", "90 %"),
        ("closes", "window closes"),
        ("closes-band", "90 %"),
        ("now", "now: what lies below it is past"),
    )
    return drawing


def _forecast_words(last: TemperaturePoint) -> str:
    words = (
        "When the fluid was expected to enter and to leave the window, with 90 % intervals, over "
        "the minute in which that was said."
    )
    if last.opens_s is None:
        return words
    return f"{words} By the last estimate it entered at minute {last.opens_s / 60.0:.1f}."


def _draw(
    frame: Frame, style: str, series: Sequence[tuple[float, float | None]], most_gap: float
) -> None:
    for run in runs(series, most_gap):
        frame.drawing.line(style, *thinned([frame.at(t, value) for t, value in run]))


def _fill_between(
    frame: Frame,
    style: str,
    told: Sequence[TemperaturePoint],
    ends: Callable[[TemperaturePoint], tuple[float, float] | None],
) -> None:
    low = [(one.t, None if (band := ends(one)) is None else band[0]) for one in told]
    high = [(one.t, None if (band := ends(one)) is None else band[1]) for one in told]
    for below, above in zip(runs(low, FORECAST_GAP_S), runs(high, FORECAST_GAP_S), strict=True):
        rim: list[Point] = [frame.at(t, value) for t, value in below]
        rim += [frame.at(t, value) for t, value in reversed(above)]
        if len(below) > 1:
            frame.drawing.area(style, *rim)


def _band(one: TemperaturePoint) -> tuple[float, float] | None:
    if one.fluid_C is None or one.U_fluid_C is None:
        return None
    return one.fluid_C - one.U_fluid_C, one.fluid_C + one.U_fluid_C


def _minute(t_s: float | None) -> float | None:
    return None if t_s is None else t_s / 60.0


def _minutes(ends_s: tuple[float, float] | None) -> tuple[float, float] | None:
    return None if ends_s is None else (ends_s[0] / 60.0, ends_s[1] / 60.0)
