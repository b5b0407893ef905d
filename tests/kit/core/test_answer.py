"""The answer of one service: every key, nulls for what is not known, budgets that add up."""

from dataclasses import replace
from functools import cache
from typing import Any

import msgspec
import pytest
from tests.kit.core.bench import JOB, Answer, Bench, answered, serve

from drainscale.core import Service
from drainscale.core.events import Event
from drainscale.core.forecasts import Forecast, _interval_within, _within
from drainscale.procedure.steps import Step
from drainscale.quantities.samples import AddedByHand, ScaleCount
from drainscale_sim.score.contract import complaints

SECTIONS = {
    "drained": {"mass_kg", "volume_L", "volume_20C_L", "U_volume_L", "stages"},
    "refill": {
        "target_volume_20C_L", "target_mass_kg", "added_mass_kg", "added_volume_20C_L",
        "U_volume_L",
    },
    "spill": {"mass_kg", "volume_L", "U_volume_L"},
    "net": {"volume_20C_L", "U_volume_L"},
    "level": {
        "verdict", "flow_at_close_mL_per_min", "temperature_at_close_C", "U_temperature_C",
        "excess_left_mL",
    },
}  # fmt: skip


@cache
def told() -> Answer:
    return answered(serve(Bench()))


@cache
def empty() -> Answer:
    return answered(Bench())


@pytest.mark.parametrize("part", SECTIONS)
@pytest.mark.parametrize("answer", [told, empty], ids=["a whole service", "no sample at all"])
def test_all_keys_are_always_there(part: str, answer: Any) -> None:
    assert answer()[part].keys() >= SECTIONS[part]


def test_a_service_without_a_sample_is_null_all_over() -> None:
    answer = empty()
    assert complaints(answer) == []
    for part in SECTIONS:
        values = [answer[part][key] for key in SECTIONS[part] - {"verdict", "stages"}]
        assert values == [None] * len(values)
    assert answer["level"]["verdict"] == "not-measured"
    assert answer["events"] == answer["forecasts"] == []


def test_the_form_of_a_whole_answer_is_right() -> None:
    assert complaints(told()) == []
    assert told()["format"] == 1


def test_drained_is_the_sum_of_its_stages() -> None:
    drained = told()["drained"]
    for key in ("mass_kg", "volume_L"):
        assert drained[key] == pytest.approx(sum(s[key] for s in drained["stages"]), abs=2e-6)


def test_the_volume_is_the_mass_over_the_sheets_density() -> None:
    """Near 18 °C the sheet's 846 kg/m3 at 15 °C is some 0.08 % a kelvin less: 844."""
    drained = told()["drained"]
    assert drained["mass_kg"] / drained["volume_L"] == pytest.approx(0.844, abs=0.0005)
    assert drained["mass_kg"] / drained["volume_20C_L"] == pytest.approx(0.8427, abs=0.0005)


def test_a_sheet_that_says_less_of_its_density_widens_the_volumes_and_not_the_mass() -> None:
    """U = 2 V u(rho) / rho alone for a large u(rho): 20 kg/m3 of 844 make 4.7 % (GUM 5.1.2)."""
    bench = serve(Bench())
    bench.job = replace(JOB, fluid=replace(JOB.fluid, density_u_kg_per_m3=20.0))
    wide = answered(bench)["drained"]
    assert wide["mass_kg"] == pytest.approx(told()["drained"]["mass_kg"], abs=1e-6)
    assert wide["U_volume_L"] / wide["volume_L"] == pytest.approx(2.0 * 20.0 / 844.0, rel=0.05)


def test_the_budget_names_its_sources_and_adds_up() -> None:
    """Independent parts in quadrature, k = 2 (JCGM 100:2008, 5.1.2 and 6.2)."""
    for part in ("drained", "refill", "spill", "net"):
        budget = told()[part]["budget"]
        combined_L = sum(one["u_L"] ** 2 for one in budget) ** 0.5
        assert 2.0 * combined_L == pytest.approx(told()[part]["U_volume_L"], rel=0.02)
        assert all(one["source"] for one in budget)


def test_litres_typed_in_alone_are_an_added_volume() -> None:
    bench = Bench(samples=[AddedByHand(0.0, 1.5), AddedByHand(1.0, 0.5)])
    refill = answered(bench)["refill"]
    assert refill["added_volume_20C_L"] == pytest.approx(2.0)
    assert refill["added_mass_kg"] == pytest.approx(2.0 * 0.8427, abs=0.001)
    assert refill["U_volume_L"] >= 0.1


def test_events_are_told_to_the_millisecond_with_their_step_and_sensor() -> None:
    event = Event(12.34567, "sensor-fault", Step.REFILL, "scale")
    assert msgspec.to_builtins(event.to_dict()) == {
        "t": 12.346, "event": "sensor-fault", "step": "refill", "sensor": "scale",
    }  # fmt: skip
    assert "sensor" not in Event(1.0, "placed", Step.DRAIN).to_dict()


def test_a_forecast_keeps_its_nulls_and_rounds_its_times() -> None:
    one = Forecast(5.0, None, None, 10.00049, (9.0, 12.3456), None, None, None, 0.123456)
    made = one.to_dict()
    assert (made["fluid_C"], made["closes_90"], made["finishes_s"]) == (None, None, None)
    assert (made["opens_s"], made["opens_90"]) == (10.0, [9.0, 12.346])
    assert made["p_finish_in_window"] == 0.1235


def test_nothing_more_than_an_hour_ahead_is_foreseen() -> None:
    """An interval goes by its upper end."""
    assert _within(3_650.0, 50.0) == 3_650.0
    assert _within(3_651.0, 50.0) is None
    assert _interval_within((100.0, 3_650.0), 50.0) == (100.0, 3_650.0)
    assert _interval_within((100.0, 3_651.0), 50.0) is None


def test_what_is_fed_tells_what_became_known_by_it() -> None:
    bench = serve(Bench())
    service = Service(bench.job)
    seen = [event for sample in bench.samples for event in service.feed(sample)]
    assert [msgspec.to_builtins(e.to_dict()) for e in seen] == told()["events"]


def test_a_silent_scale_is_a_fault_after_five_seconds_and_is_restored() -> None:
    bench = Bench()
    bench.wait(20.0)
    bench.is_scale_silent = True
    bench.wait(12.0)
    bench.is_scale_silent = False
    bench.wait(10.0)
    events = [e for e in answered(bench)["events"] if e.get("sensor") == "scale"]
    assert [e["event"] for e in events] == ["sensor-fault", "sensor-restored"]
    assert events[0]["t"] == pytest.approx(25.0, abs=1.1)
    assert events[1]["t"] == pytest.approx(32.1, abs=0.2)


def test_a_scale_that_repeats_one_count_is_a_fault() -> None:
    bench = Bench()
    bench.wait(20.0)
    start_s = bench.t
    bench.wait(12.0)
    samples = [
        replace(s, count=123_456) if isinstance(s, ScaleCount) and s.t > start_s else s
        for s in bench.samples
    ]
    events = [e for e in answered(bench, samples)["events"] if e.get("sensor") == "scale"]
    assert [e["event"] for e in events] == ["sensor-fault"]
    assert events[0]["t"] == pytest.approx(25.1, abs=0.7)
