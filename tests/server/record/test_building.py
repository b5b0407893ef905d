"""The view model: what the kit told, what people told, and nothing that neither did."""

import hashlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any

import msgspec
import pytest
from tests.server.record.conftest import (
    ENTRIES,
    JOB,
    arrivals,
    leaf_of,
    sources_of,
    with_entries,
    with_result,
)

from drainscale.messages.telegrams import JobOrder
from drainscale_server.ingest.keeping import Keeper
from drainscale_server.record.answer import read_answer
from drainscale_server.record.building import build
from drainscale_server.record.model import ServiceRecord
from drainscale_server.record.sources import Sources, gather
from drainscale_server.store.store import Store

GOLDEN = Path(__file__).parents[2] / "data/records/standpipe.record.json"
LITRES_PER_QUART = 0.946352946  # NIST Handbook 44, appendix C: exact


def golden_form(sources: Sources) -> bytes:
    """Write a record without its curves and without what each release changes."""
    record = build(replace(sources, server_version="golden"))
    plain = msgspec.to_builtins(record)
    del plain["trends"]
    return msgspec.json.format(msgspec.json.encode(plain), indent=1) + b"\n"


def test_the_record_of_a_stored_job_is_as_it_was(sources: Sources) -> None:
    assert golden_form(sources).decode() == GOLDEN.read_text(encoding="utf-8")


def test_its_figures_are_the_kit_s_own(record: ServiceRecord, sources: Sources) -> None:
    assert sources.result is not None
    drained, refill, net = (sources.result[key] for key in ("drained", "refill", "net"))
    volumes = record.volumes
    assert volumes.drained.value_L == drained["volume_20C_L"]
    assert volumes.drained_as_it_ran.value_L == drained["volume_L"]
    assert drained["U_volume_L"] == volumes.drained_as_it_ran.U_L
    assert (volumes.added.value_L, volumes.added.U_L) == (
        refill["added_volume_20C_L"],
        refill["U_volume_L"],
    )
    assert (volumes.net.value_L, volumes.net.U_L) == (net["volume_20C_L"], net["U_volume_L"])


def test_added_less_spilled_less_drained_is_net(record: ServiceRecord) -> None:
    volumes = record.volumes
    added, spilled, drained = (
        one.value_L for one in (volumes.added, volumes.spilled, volumes.drained)
    )
    assert added is not None
    assert spilled is not None
    assert drained is not None
    assert volumes.net.value_L == pytest.approx(added - spilled - drained, abs=2e-6)


def test_quarts_are_litres_over_the_published_factor(record: ServiceRecord) -> None:
    for one in (record.volumes.drained, record.volumes.added, record.volumes.net):
        assert one.value_L is not None
        assert one.value_qt == pytest.approx(one.value_L / LITRES_PER_QUART, rel=1e-12)


def test_the_share_of_new_fluid_is_drained_over_total(record: ServiceRecord) -> None:
    assert record.volumes.new_share == pytest.approx(2.514396 / 7.1)


def test_an_attempt_has_the_temperatures_of_its_ends(record: ServiceRecord) -> None:
    (attempt,) = record.level.attempts
    assert attempt.opened.t == 1397.601
    assert attempt.shut.t == 1494.101
    assert attempt.opened.fluid_C is not None
    assert attempt.shut.fluid_C is not None
    assert 35.0 < attempt.opened.fluid_C < attempt.shut.fluid_C < 45.0
    assert attempt.events == ["close-plug"]


def test_the_gates_are_told_as_they_stood(record: ServiceRecord) -> None:
    told = {line.gate: (line.outcome, line.by) for line in record.work.gates}
    assert told["brake-held"] == ("ticked", "foot-switch")
    assert told["cold-enough"] == ("measured", "kit")
    assert told["engine-idling"] == ("confirmed, not measured", "foot-switch")
    assert told["wiped-dry"] == ("unanswered", None)
    assert record.not_weighed.pan_filter == "stays-on"


def test_the_hash_is_sha256_over_the_messages_as_they_came(record: ServiceRecord) -> None:
    made = hashlib.sha256()
    for seq, message in enumerate(arrivals("standpipe"), start=1):
        head = f"made {seq} {leaf_of(message)} {len(message.payload)}\n"
        made.update(head.encode() + message.payload + b"\n")
    assert record.seal.messages_sha256 == made.hexdigest()


def test_one_changed_byte_changes_the_hash(tmp_path: Path, record: ServiceRecord) -> None:
    messages = arrivals("standpipe")
    i = next(i for i, one in enumerate(messages) if leaf_of(one) == "note")
    other = messages[i].payload.replace(b'"by":"board"', b'"by":"kit"')
    assert other != messages[i].payload
    messages[i] = replace(messages[i], payload=other)
    seal = build(sources_of(messages, tmp_path)).seal
    assert seal.messages_sha256 != record.seal.messages_sha256


def _null(result: dict[str, Any], part: str) -> None:
    result[part] = {
        key: [] if isinstance(value, list) else None for key, value in result[part].items()
    }


@pytest.mark.parametrize("part", ["drained", "refill", "spill", "net"])
def test_what_was_not_measured_is_null_and_never_zero(sources: Sources, part: str) -> None:
    record = build(with_result(sources, lambda result: _null(result, part)))
    name = {"refill": "added", "spill": "spilled"}.get(part, part)
    told = getattr(record.volumes, name)
    assert (told.value_L, told.U_L, told.value_qt, told.U_qt) == (None, None, None, None)


def test_without_a_drained_volume_no_used_oil_is_told(sources: Sources) -> None:
    assert (
        build(with_result(sources, lambda result: _null(result, "drained"))).used_oil.volume_L
        is None
    )


def test_used_oil_that_was_typed_goes_before_what_was_weighed(sources: Sources) -> None:
    used = build(with_entries(sources, used_oil_L=4.5)).used_oil
    assert (used.volume_L, used.is_typed) == (4.5, True)


def test_without_a_shut_cue_its_figures_are_null(sources: Sources) -> None:
    def shut_never(result: dict[str, Any]) -> None:
        result["level"] = dict.fromkeys(result["level"]) | {"verdict": "not-measured"}

    level = build(with_result(sources, shut_never)).level
    assert level.shut_cue.t is None
    assert level.flow_at_shut_cue_mL_per_min is None


def test_faults_of_sensors_are_stretches_without_a_value(
    gathered: Callable[[str], Sources],
) -> None:
    sources = gathered("faults")
    gaps = build(sources).gaps
    told = [(one.event, one.sensor) for one in sources.events if one.event.startswith("sensor")]
    assert len(told) == 2 * len(gaps) == 6
    assert {gap.what for gap in gaps} == {"scale", "pan"}
    assert all(gap.to_s is not None and gap.to_s > gap.from_s for gap in gaps)


def test_a_fault_that_is_not_over_has_no_end(gathered: Callable[[str], Sources]) -> None:
    sources = gathered("faults")
    events = [one for one in sources.events if one.event != "sensor-restored"]
    gaps = build(replace(sources, events=events)).gaps
    assert [gap.to_s for gap in gaps] == [None, None]


def test_a_stretch_in_which_the_bench_stood_still_is_told(sources: Sources) -> None:
    def stood_still(result: dict[str, Any]) -> None:
        result["gaps"] = [[100.0, 161.5]]

    (gap,) = build(with_result(sources, stood_still)).gaps
    assert (gap.what, gap.from_s, gap.to_s) == ("all sensors", 100.0, 161.5)


def test_a_job_that_is_still_open_has_no_figures_yet(tmp_path: Path) -> None:
    begun = [one for one in arrivals("standpipe") if leaf_of(one) not in ("result", "job-closed")]
    record = build(sources_of(begun[:100], tmp_path, ENTRIES))
    assert (record.finality, record.place.state) == ("none", "open")
    assert record.volumes.drained.value_L is None
    assert record.level.verdict == "not-measured"
    assert "not asked yet" in {line.outcome for line in record.work.gates}


def test_an_aborted_job_says_so(tmp_path: Path) -> None:
    messages = [
        replace(one, payload=one.payload.replace(b'"outcome":"done"', b'"outcome":"aborted"'))
        for one in arrivals("standpipe")
    ]
    record = build(sources_of(messages, tmp_path))
    assert (record.finality, record.place.state) == ("final", "aborted")
    assert "not reached" in {line.outcome for line in record.work.gates}


def test_a_job_that_is_only_planned_shows_its_order(store: Store, sources: Sources) -> None:
    spec = sources.job.spec
    assert spec is not None
    order = JobOrder(job=JOB, procedure=spec.procedure, fluid=spec.fluid, label="bay 1, noon")
    job = store.plan_job("north", "bay-1", order, 1_800_000_000.0)
    record = build(replace(sources, job=job, result=None, events=[], cues=[], notes=[]))
    assert record.place.state == "planned"
    assert record.fluid.density_kg_per_m3 == 857.4
    assert record.limits is not None
    assert record.limits.window_C == (35.0, 45.0)


def test_litres_that_were_typed_in_are_told_as_not_weighed(sources: Sources) -> None:
    digest = replace(sources.digest, typed_in_L=0.5)
    record = build(replace(sources, digest=digest))
    assert record.not_weighed.typed_in_L == 0.5
    assert record.volumes.typed_in.value_L == 0.5


@pytest.mark.parametrize(
    "result",
    [
        {"drained": "much"},
        {"drained": {"volume_L": float("inf")}},
        {"steps": [{"step": "drain"}]},
        {"forecasts": 7},
    ],
)
def test_an_answer_of_another_form_is_no_answer(result: dict[str, Any]) -> None:
    assert read_answer(result) is None


def test_entries_of_another_type_count_as_not_told(sources: Sources) -> None:
    record = build(
        with_entries(
            sources, vehicle=7, mileage_km="far", torques=[{"part": 1}], washers_renewed="all"
        )
    )
    assert record.vehicle.vehicle is None
    assert record.vehicle.mileage_km is None
    assert record.work.torques is None
    assert record.work.washers_renewed is None


def test_what_was_typed_in_and_changed_later_is_told(store: Store) -> None:
    Keeper(store).keep(arrivals("standpipe"))
    for at_s, told in ((1.0, 7), (2.0, 7), (3.0, 70), (4.0, None)):
        store.add_record_entry(JOB, "mileage_km", told, "board", at_s)
    store.add_record_entry(JOB, "plate", "RW 1", "board", 5.0)
    sources = gather(store, JOB)
    assert sources is not None
    (changed,) = build(sources).seal.changed
    assert (changed.key, changed.times, changed.last_at_s) == ("mileage_km", 2, 4.0)
    assert len(store.history(JOB)) == 5


def test_whatever_way_the_messages_came_the_record_is_the_same(
    tmp_path: Path, sources: Sources
) -> None:
    messages = arrivals("standpipe")
    Random(1).shuffle(messages)
    late = [replace(one, received_s=one.received_s + 86_400.0) for one in messages]
    again = sources_of(late + late[:50], tmp_path, ENTRIES)
    assert build(again) == build(sources)
