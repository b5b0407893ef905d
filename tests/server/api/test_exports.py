import dataclasses
import gzip
import logging
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from tests.kit.uplink.made_up import OPENED, samples_of
from tests.server.made_up import RUNNING, numbered, pack, packs

from drainscale.messages.records import Samples
from drainscale.quantities.samples import ScaleCount, StepMark
from drainscale.recording.job_file import parse_job
from drainscale.recording.senml import parse_recording
from drainscale.replay.command import main as replay
from drainscale_server.ingest.keeping import Keeper
from drainscale_server.store.store import Store

JOB = "/api/v1/jobs/j-1"


@pytest.fixture
def measured(store: Store) -> list[ScaleCount]:
    """A job of two starts of its bench, each with some packs."""
    Keeper(store).keep([numbered(1, OPENED), *packs(2, 4), *packs(6, 3, boot="b2")])
    return [one for one in samples_of(10, 35) if isinstance(one, ScaleCount)]


def test_a_recording_holds_the_samples_as_they_came(
    client: TestClient, measured: list[ScaleCount]
) -> None:
    told = client.get(f"{JOB}/recording.sensml")
    assert told.headers["content-type"] == "application/sensml+json"
    assert told.headers["content-disposition"] == 'attachment; filename="j-1.sensml"'
    recording = parse_recording(told.content, "exported")
    assert recording.base_time_s == OPENED.base_time_s
    assert recording.name == "urn:dev:ops:north.bay-3:"
    assert list(recording.samples) == samples_of(10, 35)
    assert recording.warnings == ()


def test_packed_it_is_the_same(client: TestClient, measured: list[ScaleCount]) -> None:
    plain = client.get(f"{JOB}/recording.sensml").content
    packed = client.get(f"{JOB}/recording.sensml.gz").content
    assert gzip.decompress(packed) == plain


def test_a_job_file_holds_what_the_core_was_told(
    client: TestClient, measured: list[ScaleCount]
) -> None:
    assert parse_job(client.get(f"{JOB}/job.toml").text, "exported") == OPENED.spec


def test_a_time_that_goes_back_is_left_out_and_told(
    client: TestClient, store: Store, caplog: pytest.LogCaptureFixture
) -> None:
    again = numbered(3, pack(0, 5))  # a kit that counts its time twice
    Keeper(store).keep([numbered(1, OPENED), numbered(2, pack(10, 5)), again])
    with caplog.at_level(logging.ERROR):
        recording = parse_recording(client.get(f"{JOB}/recording.sensml").content, "exported")
    assert list(recording.samples) == samples_of(10, 5)
    assert "5 samples whose time goes back" in caplog.text


def test_a_time_finer_than_a_recording_holds_is_rounded(client: TestClient, store: Store) -> None:
    told = numbered(2, Samples(base_time_s=0.0, is_clock_set=True, samples=(ScaleCount(0.25, 7),)))
    finer = dataclasses.replace(told, payload=told.payload.replace(b"0.25", b"0.2500000004"))
    Keeper(store).keep([numbered(1, OPENED), finer])
    recording = parse_recording(client.get(f"{JOB}/recording.sensml").content, "exported")
    assert list(recording.samples) == [ScaleCount(0.25, 7)]


def test_samples_for_a_plot_keep_times_and_spikes(client: TestClient, store: Store) -> None:
    counts = [ScaleCount(t / 10.0, 100 + t % 3) for t in range(1000)]
    counts[437] = ScaleCount(43.7, 8_000_000)
    body = Samples(base_time_s=RUNNING.opened.base_time_s, is_clock_set=True, samples=tuple(counts))
    step = StepMark(100.0, "drain")
    late = Samples(base_time_s=RUNNING.opened.base_time_s, is_clock_set=True, samples=(step,))
    Keeper(store).keep([numbered(1, OPENED), numbered(2, body), numbered(3, late)])
    told = client.get(f"{JOB}/samples", params={"name": "scale", "columns": 10}).json()
    assert (told["unit"], told["samples_n"]) == ("count", 1000)
    assert (43.7, 8_000_000) in zip(told["t"], told["v"], strict=True)
    assert (told["t"][0], told["t"][-1]) == (0.0, 99.9)
    assert len(told["t"]) <= 40
    part = client.get(f"{JOB}/samples", params={"from_s": 43.5, "to_s": 43.9}).json()
    assert part["t"] == [43.5, 43.6, 43.7, 43.8, 43.9]
    said = client.get(f"{JOB}/samples", params={"name": "step"}).json()
    assert (said["t"], said["v"], said["unit"]) == ([100.0], ["drain"], None)


@pytest.mark.parametrize(
    "query",
    ["name=flow", "columns=0", "columns=4001", "from_s=-1", "from_s=nan", "to_s=inf", "to_s=x"],
)
def test_a_wrong_question_about_samples_is_a_problem(
    query: str, client: TestClient, measured: list[ScaleCount]
) -> None:
    assert client.get(f"{JOB}/samples?{query}").status_code == 422


def test_the_recording_is_what_a_replay_takes(
    client: TestClient, measured: list[ScaleCount], tmp_path: Path
) -> None:
    for name in ("recording.sensml.gz", "job.toml"):
        (tmp_path / name).write_bytes(client.get(f"{JOB}/{name}").content)
    files = [str(tmp_path / "recording.sensml.gz"), "--job", str(tmp_path / "job.toml")]
    assert replay([*files, "--json", str(tmp_path / "answer.json")]) == 0
    assert (tmp_path / "answer.json").exists()
