"""Stores that hold real services (tests/data/records), and records made of them."""

import gzip
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest

from drainscale.messages.topics import BenchId
from drainscale_server.ingest.keeping import Keeper
from drainscale_server.ingest.reading import Arrived
from drainscale_server.record.building import build
from drainscale_server.record.model import ServiceRecord
from drainscale_server.record.sources import Sources, gather
from drainscale_server.store.store import Store

RECORDS = Path(__file__).parents[2] / "data/records"
JOB = "j-made"
BENCH = BenchId("north", "bay-1")
RECEIVED_S = 1_800_000_000.0
ENTRIES: dict[str, Any] = {
    "shop": "Ridgeway Gearbox Works",
    "technician": "M. Okafor",
    "vehicle": "Orvane Tarn 6, 2017",
    "plate": "RW 17 TRN",
    "model": "Tarn 6-speed",
    "unit": "T6-004711",
    "mileage_km": 128_400,
    "total_capacity_L": 7.1,
    "old_fluid": "dark, smells burnt, no chips on the magnet",
    "fluid_name": "Halden ATF 6",
    "fluid_lot": "24-117",
    "density_origin": "sheet",
    "washers_renewed": ["drain plug", "level plug"],
    "torques": [
        {"part": "standpipe", "torque_Nm": 3.5},
        {"part": "level plug", "torque_Nm": 27},
    ],
    "scale_calibrated": "2026-11-02",
    "calibration_reference": "M1 weights, 5 kg and 10 kg, no. 88",
    "pan_sensor_checked": "2026-11-02",
    "used_oil_container": "drum 3",
    "used_oil_log": "2026-118",
}


def arrivals(name: str) -> list[Arrived]:
    """Read a stored job as messages that arrive."""
    text = gzip.decompress((RECORDS / f"{name}.jsonl.gz").read_bytes()).decode()
    told = map(json.loads, text.splitlines())
    return [Arrived(BENCH.topic(leaf), payload.encode(), RECEIVED_S) for leaf, payload in told]


def leaf_of(message: Arrived) -> str:
    return message.topic.rpartition("/")[2]


def sources_of(
    messages: Sequence[Arrived], folder: Path, entries: Mapping[str, Any] = MappingProxyType({})
) -> Sources:
    """Store messages, put something on the record, and gather its sources."""
    with Store(folder / "store.sqlite") as opened:
        Keeper(opened).keep(messages)
        opened.add_record_entries(JOB, dict(entries), "board", RECEIVED_S)
        sources = gather(opened, JOB)
    assert sources is not None
    return sources


@pytest.fixture(scope="session")
def gathered(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Sources]:
    """Gather the sources of a stored job, with what people told of it."""
    made: dict[str, Sources] = {}

    def of(name: str) -> Sources:
        if name not in made:
            made[name] = sources_of(arrivals(name), tmp_path_factory.mktemp(name), ENTRIES)
        return made[name]

    return of


@pytest.fixture(scope="session")
def sources(gathered: Callable[[str], Sources]) -> Sources:
    """Sources of a clean service."""
    return gathered("standpipe")


@pytest.fixture(scope="session")
def record(sources: Sources) -> ServiceRecord:
    """The record of a clean service."""
    return build(sources)


def with_entries(sources: Sources, **entries: Any) -> Sources:
    """Change what people told."""
    return replace(sources, entries=sources.entries | entries)


def with_result(sources: Sources, change: Callable[[dict[str, Any]], None]) -> Sources:
    """Change the kit's answer."""
    result = json.loads(json.dumps(sources.result))
    change(result)
    return replace(sources, result=result)
