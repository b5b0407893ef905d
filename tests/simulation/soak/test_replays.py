from math import inf

import msgspec
import pytest

from drainscale_sim.soak.replays import compared

FORECAST = {"t": 500.0, "opens_s": 700.0, "opens_90": [680.0, 730.0], "closes_90": None}
ANSWER = {
    "steps": [{"step": "drain", "started_s": 10.0}],
    "events": [{"t": 12.0, "event": "flow-started"}],
    "forecasts": [FORECAST],
    "net": {"volume_20C_L": 0.4},
}


def written(**other: object) -> bytes:
    return msgspec.json.encode({**ANSWER, **other})


def test_the_same_answer_is_the_same_and_no_time_apart() -> None:
    found = compared(written(), written())
    assert found.is_same
    assert (found.times_n, found.apart_ms) == (7, 0.0)


@pytest.mark.parametrize(
    ("other", "apart_ms"),
    [
        ({"net": {"volume_20C_L": 0.5}}, 0.0),
        ({"events": [{"t": 12.002, "event": "flow-started"}]}, 2.0),
        ({"steps": [{"step": "drain", "started_s": 10.001}]}, 1.0),
        ({"steps": [{"step": "drain", "started_s": None}]}, inf),
        ({"events": []}, inf),
        ({"forecasts": [{**FORECAST, "opens_90": None}]}, inf),
    ],
)
def test_another_answer_is_told_with_how_far_times_are_apart(
    other: dict[str, object], apart_ms: float
) -> None:
    found = compared(written(), written(**other))
    assert not found.is_same
    assert found.apart_ms == pytest.approx(apart_ms, abs=1e-6)
