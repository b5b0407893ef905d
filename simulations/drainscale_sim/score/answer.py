"""What ``drainscale replay`` answered, read so that nothing in it can break the scoring.

A value that is absent, of the wrong type or not finite reads as ``None``; ``contract`` tells
apart which of these it was.
"""

import math
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

FORECAST_HOLDS_S = 10.0  # due every 5 s; older than this, there is none in force


def as_number(value: object) -> float | None:
    """Return a finite number as float, anything else as ``None``."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    return float(value) if math.isfinite(value) else None


def as_interval(value: object) -> tuple[float, float] | None:
    """Return a list of two finite numbers as a pair, anything else as ``None``."""
    if not isinstance(value, list) or len(value) != 2:
        return None
    low, high = as_number(value[0]), as_number(value[1])
    return None if low is None or high is None else (low, high)


@dataclass(frozen=True, slots=True)
class SeenEvent:
    """One event of the answer that has a time."""

    t: float
    event: str
    sensor: str | None


@dataclass(frozen=True, slots=True)
class SeenForecast:
    """One forecast of the answer that has a time."""

    t: float
    fields: Mapping[str, object]

    def number(self, key: str) -> float | None:
        """Return one figure of the forecast."""
        return as_number(self.fields.get(key))

    def interval(self, key: str) -> tuple[float, float] | None:
        """Return one interval of the forecast."""
        return as_interval(self.fields.get(key))


class Answer:
    """A replay's answer, ready to be compared."""

    def __init__(self, raw: Mapping[str, object]) -> None:
        self.raw = raw
        self.events = _events(raw.get("events"))
        self.forecasts = _forecasts(raw.get("forecasts"))
        self._forecast_times = [forecast.t for forecast in self.forecasts]

    def value(self, part: str, key: str) -> object:
        """Return ``raw[part][key]`` or ``None``."""
        section = self.raw.get(part)
        return section.get(key) if isinstance(section, dict) else None

    def number(self, part: str, key: str) -> float | None:
        """Return ``raw[part][key]`` if it is a finite number."""
        return as_number(self.value(part, key))

    def stage(self, step: str) -> Mapping[str, object]:
        """Return the drain stage of that step, empty if it is not there."""
        stages = self.value("drained", "stages")
        found: Mapping[str, object] = {}
        for stage in stages if isinstance(stages, list) else []:
            if isinstance(stage, dict) and stage.get("step") == step:
                found = stage
        return found

    def times(self, event: str, sensor: str | None = None) -> list[float]:
        """Return when an event came, in time order; of one sensor, if named."""
        return [
            seen.t
            for seen in self.events
            if seen.event == event and (sensor is None or seen.sensor == sensor)
        ]

    def first(self, event: str) -> float | None:
        """Return when an event came first, or ``None``."""
        return next(iter(self.times(event)), None)

    def forecast_at(self, t: float) -> SeenForecast | None:
        """Return the forecast in force at ``t``: the last one, if not too old."""
        index = bisect_right(self._forecast_times, t + 1e-6) - 1
        if index < 0 or self._forecast_times[index] <= t - FORECAST_HOLDS_S:
            return None
        return self.forecasts[index]


def _records(value: object) -> Sequence[tuple[float, Mapping[str, object]]]:
    """Return the objects of a list that have a time, in time order."""
    timed = []
    for record in value if isinstance(value, list) else []:
        t = as_number(record.get("t")) if isinstance(record, dict) else None
        if t is not None:
            timed.append((t, record))
    return sorted(timed, key=lambda pair: pair[0])


def _events(value: object) -> list[SeenEvent]:
    return [
        SeenEvent(t, str(record.get("event")), _word(record.get("sensor")))
        for t, record in _records(value)
    ]


def _forecasts(value: object) -> list[SeenForecast]:
    return [SeenForecast(t, record) for t, record in _records(value)]


def _word(value: object) -> str | None:
    return value if isinstance(value, str) else None
