"""A small truth and its perfect answer, to be changed in one place by each test."""

import json
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

import msgspec
import pytest

from drainscale_sim.score.answer import Answer
from drainscale_sim.score.judge import judge
from drainscale_sim.score.tally import Tally
from drainscale_sim.score.truth import Truth

Changes = dict[str, Any]


def _fluid_C() -> list[float]:
    """20 °C until 500 s, then 2 K a minute: 35 °C at 950 s, 45 °C at 1250 s."""
    return [20.0 + max(0.0, t - 500.0) / 30.0 for t in range(1401)]


def _flow_mL_per_min() -> list[float]:
    """A spill that falls by 1 mL/min each second from 200 at 1000 s: 60 at 1140 s."""
    return [max(0.0, 1200.0 - t) if t >= 1000 else 0.0 for t in range(1401)]


TRUTH: Changes = {
    "name": "small",
    "tags": ["marked"],
    "rate_Hz": 10,
    "duration_s": 1400.0,
    "outcome": "closed-in-window",
    "drained": {
        "mass_kg": 1.7,
        "volume_L": 2.0,
        "volume_20C_L": 2.0,
        "stages": [
            {"step": "drain", "mass_kg": 1.7, "started_s": 50.0, "ended_s": 300.0,
             "dripped_s": 250.0}
        ],
    },
    "refill": {
        "target_volume_20C_L": 2.5,
        "added_mass_kg": 2.21,
        "added_volume_20C_L": 2.6,
        "pump_start_s": 350.0,
        "pump_end_s": 450.0,
        "reached_s": 445.0,
    },
    "spill": {"mass_kg": 0.2, "volume_L": 0.24},
    "net": {"volume_20C_L": 0.36},
    "times": {
        "window_opens_s": 950.0,
        "window_closes_s": 1250.0,
        "plug_opened_s": 1000.0,
        "plug_shut_s": 1180.0,
        "spill_below_close_limit_s": 1140.0,
        "spill_below_close_in_recording": True,
        "container_full_s": None,
        "engine_on_s": 500.0,
    },
    "steps": {"drain": 50.0, "warm": 510.0, "level": 1000.0, "seal": 1180.0},
    "marks": [[50.0, "drain"], [1000.0, "level"]],
    "placed_s": [30.0],
    "lifted_s": [320.0],
    "disturbances": [],
    "faults": [],
    "limits": {
        "window_C": [35.0, 45.0],
        "close_flow_mL_per_min": 60.0,
        "drip_flow_mL_per_min": 3.0,
        "approach_K": 3.0,
    },
    "grid": {
        "dt_s": 1.0,
        "fluid_C": _fluid_C(),
        "flow_mL_per_min": _flow_mL_per_min(),
        "excess_mL": [None] * 1401,
    },
}  # fmt: skip


def _forecast(t: float) -> Changes:
    return {
        "t": t,
        "fluid_C": _fluid_C()[int(t)],
        "U_fluid_C": 1.0,
        "opens_s": 950.0,
        "opens_90": [930.0, 980.0],
        "closes_s": 1250.0,
        "closes_90": [1200.0, 1300.0],
        "finishes_s": 1140.0 if t > 1000.0 else None,
        "p_finish_in_window": 0.9 if t > 1000.0 else None,
    }


def _event(t: float, event: str, step: str, **details: str) -> Changes:
    return {"t": t, "event": event, "step": step, **details}


ANSWER: Changes = {
    "format": 1,
    "drained": {
        "mass_kg": 1.7,
        "volume_L": 2.0,
        "volume_20C_L": 2.0,
        "U_volume_L": 0.010,
        "stages": [
            {"step": "drain", "mass_kg": 1.7, "volume_L": 2.0, "started_s": 50.0,
             "dripped_s": 250.0}
        ],
    },
    "refill": {
        "target_volume_20C_L": 2.5,
        "target_mass_kg": 2.125,
        "added_mass_kg": 2.21,
        "added_volume_20C_L": 2.6,
        "U_volume_L": 0.012,
    },
    "spill": {"mass_kg": 0.2, "volume_L": 0.24, "U_volume_L": 0.003},
    "net": {"volume_20C_L": 0.36, "U_volume_L": 0.003},
    "level": {
        "verdict": "closed-in-window",
        "flow_at_close_mL_per_min": 60.0,
        "temperature_at_close_C": _fluid_C()[1140],
        "U_temperature_C": 1.0,
        "excess_left_mL": None,
    },
    "steps": [{"step": "drain", "started_s": 50.0}],
    "events": [
        _event(30.0, "placed", "prepare"),
        _event(50.0, "flow-started", "drain"),
        _event(250.0, "dripped", "drain"),
        _event(320.0, "lifted", "drain"),
        _event(445.0, "refill-reached", "refill"),
        _event(860.0, "window-near", "warm"),
        _event(965.0, "open-plug", "warm"),
        _event(1140.0, "close-plug", "level"),
    ],
    "forecasts": [_forecast(t) for t in range(510, 1185, 5)],
}  # fmt: skip


def _changed(base: Changes, changes: Changes) -> Changes:
    """Copy, with values replaced by dotted name: ``{"level.verdict": "overran"}``."""
    copy = deepcopy(base)
    for name, value in changes.items():
        *path, last = name.split(".")
        place = copy
        for key in path:
            place = place[key]
        place[last] = value
    return copy


@pytest.fixture
def truth_json() -> Callable[[Changes], Changes]:
    return lambda changes: _changed(TRUTH, changes)


@pytest.fixture
def answer_json() -> Callable[[Changes], Changes]:
    return lambda changes: _changed(ANSWER, changes)


@pytest.fixture
def events_json() -> Callable[..., list[Changes]]:
    """The perfect answer's events, one of them at another time, or left out."""

    def events(name: str, *times: float, **details: str) -> list[Changes]:
        kept = [event for event in ANSWER["events"] if event["event"] != name]
        told = [_event(t, name, "level", **details) for t in times]
        return sorted(kept + told, key=lambda event: float(event["t"]))

    return events


@pytest.fixture
def judged() -> Callable[..., Tally]:
    """Judge the small answer against the small truth, each with its changes."""

    def judge_small(answer: Changes | None = None, truth: Changes | None = None) -> Tally:
        known = msgspec.json.decode(json.dumps(_changed(TRUTH, truth or {})), type=Truth)
        return judge(Answer(_changed(ANSWER, answer or {})), known)

    return judge_small


@pytest.fixture
def small_folder(tmp_path: Path) -> Path:
    """A folder with the small truth, and beside it files that stand for a recording."""
    (tmp_path / "small.truth.json").write_text(json.dumps(TRUTH))
    (tmp_path / "small.sensml.gz").write_bytes(b"")
    (tmp_path / "small.job.toml").write_text("")
    return tmp_path
