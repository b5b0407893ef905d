"""The whole stack as processes: server, broker, kit, world, technician; the server is killed.

With ``kill -9`` of the server in mid-job and a restart on the same data, no message is missing or
stored twice, and what stands there in the end is what stands there without it.
"""

import re
import sqlite3
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from drainscale.messages.topics import BenchId
from drainscale.replay.command import main as replay
from drainscale.uplink.spool import Spool
from drainscale_sim.closed_loop.orders import NAMES
from drainscale_sim.closed_loop.processes import Run
from drainscale_sim.closed_loop.service import Place
from drainscale_sim.demo.closed_loop import ClosedLoop, Outcome, open_shop
from drainscale_sim.demo.shop import Shop
from drainscale_sim.soak.kills import as_bytes

SCENARIO, SEED = "check-plug", 11  # a quick one
GONE_S, BACK_S = 250.0, 450.0  # of the job
PATIENCE_S = 60.0


@dataclass
class Ran:
    """What one service left behind."""

    job: str
    answer: dict[str, Any]
    outcome: Outcome
    told: dict[str, Any]  # the server's JSON documents about the job
    files: dict[str, bytes]
    stored: dict[str, list[int]]  # numbers by start of the agent
    sent: dict[str, int]  # last number given out, by start


def eventually(what: Callable[[], bool]) -> None:
    end_s = time.monotonic() + PATIENCE_S
    while not what():
        assert time.monotonic() < end_s, "it did not come in time"
        time.sleep(0.05)  # nothing in this process tells when a server has stored something


def run(folder: Path, *, is_killed: bool) -> Ran:
    folder.mkdir()
    said: list[str] = []
    with (
        Run(SCENARIO, SEED, folder).world() as world,
        open_shop(folder / "shop", said.append) as shop,
    ):
        loop = ClosedLoop(SCENARIO, SEED, folder, world, shop)
        try:
            if is_killed:
                kill_and_restart(loop, shop)
            while not loop.running.is_over:
                loop.running.advance(loop.running.t + 100.0)
            outcome = loop.outcome()
            assert loop.running.answer is not None
            ran = fetched(shop, loop.job_id, loop.running.answer, outcome)
        finally:
            loop.close()
    assert said == [f"board {shop.board}"]
    ran.stored, ran.sent = stored(folder / "shop"), sent(folder)
    return ran


def kill_and_restart(loop: ClosedLoop, shop: Shop) -> None:
    loop.running.advance(GONE_S)
    eventually(lambda: len(shop.get_json(f"jobs/{loop.job_id}/events")["events"]) > 0)
    shop.kill()
    loop.running.advance(BACK_S)  # the kit goes on
    shop.start()


def fetched(shop: Shop, job: str, answer: dict[str, Any], outcome: Outcome) -> Ran:
    told = {
        what: shop.get_json(f"jobs/{job}/{what}")
        for what in ("steps", "events", "cues", "notes", "faults", "result", "forecasts")
    }
    told["job"] = shop.get_json(f"jobs/{job}")
    told["quarantine"] = shop.get_json("quarantine")
    files = {
        name: shop.get(f"api/v1/jobs/{job}/{name}") for name in ("recording.sensml", "job.toml")
    }
    files["record"] = shop.get(f"jobs/{job}/record")
    files["record.pdf"] = shop.get(f"jobs/{job}/record.pdf")
    return Ran(job, answer, outcome, told, files, {}, {})


def stored(shop: Path) -> dict[str, list[int]]:
    """What the server's store holds, whose server has ended."""
    (path,) = (shop / "data").glob("store.sqlite")
    with closing(sqlite3.connect(path)) as db:
        rows = db.execute(
            "SELECT b.boot, m.seq FROM message m JOIN boot b ON b.place = m.boot ORDER BY 1, 2"
        ).fetchall()
    numbers: dict[str, list[int]] = {}
    for boot, seq in rows:
        numbers.setdefault(boot, []).append(seq)
    return numbers


def sent(folder: Path) -> dict[str, int]:
    """What the kit's spool has given out."""
    spool = Spool(Place(folder).spool, BenchId(NAMES.site, NAMES.bench))
    try:
        return {one.boot: one.last for one in spool.standings() if one.last}
    finally:
        spool.close()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("stack")


@pytest.fixture(scope="module")
def both(folder: Path) -> tuple[Ran, Ran]:
    """The service without and with the kill, side by side."""
    with ThreadPoolExecutor(2) as pool:
        plain = pool.submit(run, folder / "plain", is_killed=False)
        killed = pool.submit(run, folder / "killed", is_killed=True)
        return plain.result(), killed.result()


@pytest.fixture(scope="module", params=["plain", "killed"])
def ran(request: pytest.FixtureRequest, both: tuple[Ran, Ran]) -> Ran:
    return both[request.param == "killed"]


def test_the_service_ends_well_and_the_server_has_it_closed(ran: Ran) -> None:
    assert ran.outcome.broken == []
    assert ran.outcome.judged is not None
    assert ran.outcome.judged.is_sealed_right
    assert ran.told["job"]["state"] == "done"
    assert ran.told["job"]["kit_job"] == ran.job  # begun by the order that the server gave
    assert ran.told["quarantine"]["quarantine"] == []


def test_no_message_is_missing_or_stored_twice(ran: Ran) -> None:
    assert ran.stored == {boot: list(range(1, last + 1)) for boot, last in ran.sent.items()}
    assert sum(ran.sent.values()) > 500


def test_what_is_exported_replays_to_the_live_answer(ran: Ran, tmp_path: Path) -> None:
    for name in ("recording.sensml", "job.toml"):
        (tmp_path / name).write_bytes(ran.files[name])
    out = tmp_path / "answer.json"
    asked = [tmp_path / "recording.sensml", "--job", tmp_path / "job.toml", "--json", out]
    assert replay([str(one) for one in asked]) == 0
    assert out.read_bytes() == as_bytes(ran.answer)
    assert as_bytes(ran.told["result"]["result"]) == as_bytes(ran.answer)


def test_the_killed_server_tells_the_same_in_the_end(both: tuple[Ran, Ran]) -> None:
    plain, killed = both
    assert as_bytes(killed.answer) == as_bytes(plain.answer)
    assert killed.files["recording.sensml"] == plain.files["recording.sensml"]
    for what in ("steps", "events", "cues", "notes", "faults", "result", "forecasts"):
        assert unnumbered(killed.told[what]) == unnumbered(plain.told[what])


def unnumbered(told: Any) -> Any:
    """Leave out which message said it: that hangs on when the disk had written."""
    if isinstance(told, list):
        return [unnumbered(one) for one in told]
    if isinstance(told, dict):
        return {key: unnumbered(one) for key, one in told.items() if key not in ("boot", "seq")}
    return told


def test_the_record_is_the_same_as_without_the_kill(both: tuple[Ran, Ran]) -> None:
    plain, killed = both
    assert text_of(killed) == text_of(plain)
    assert all(one.files["record.pdf"].startswith(b"%PDF-") for one in both)


def text_of(ran: Ran) -> str:
    """The record's page, but for the job's id, and for how its samples came in messages.

    How many samples go into one hangs on when the disk had written the one before.
    """
    page = ran.files["record"].decode().replace(ran.job, "JOB")
    page, n = re.subn(r">\d+, with (\d+ samples)", r">N, with \1", page)
    page, digests_n = re.subn(r"messages: [0-9a-f]{64}", "messages: DIGEST", page)
    assert (n, digests_n) == (1, 1)
    return page
