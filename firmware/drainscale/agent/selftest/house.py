"""The self-test of what is behind the bench: the spool's disk, the broker, the wall clock."""

import os
import shutil
import sqlite3
import threading
import time
from pathlib import Path
from statistics import median

from drainscale.agent.bench_file import SpoolPlace, UplinkTarget
from drainscale.agent.keeping import broker_of
from drainscale.agent.selftest.findings import Finding, Findings, Part
from drainscale.errors import DrainscaleError, SpoolError
from drainscale.ports import Clock
from drainscale.uplink.broker import BrokerSettings
from drainscale.uplink.spool_file import open_or_renew

TRIAL_FILE = "selftest.sqlite"
COMMITS = 10
SLOWEST_COMMIT_S = 0.5  # one is due a second
LEAST_FREE_MB = 200  # some forty services
REACH_S = 5.0


def check_spool(place: SpoolPlace) -> Findings:
    """Write through to the disk in the spool's folder, on a trial file that goes away again."""
    part = Part("spool")
    folder = Path(place.folder)
    trial = folder / TRIAL_FILE
    try:
        folder.mkdir(parents=True, exist_ok=True)
        free_MB = shutil.disk_usage(folder).free / 1e6
        commit_s = _commit_s(trial)
    except (OSError, SpoolError, sqlite3.Error) as error:
        yield part.fail("writes", str(error), "who owns the folder, and is the card full or worn?")
        return
    yield part.judge(
        "writes",
        commit_s <= SLOWEST_COMMIT_S,
        f"{1000.0 * commit_s:.0f} ms until a record is on the disk (synchronous=FULL)",
        f"more than {1000.0 * SLOWEST_COMMIT_S:.0f} ms: the card is worn or busy, change it",
    )
    yield part.judge(
        "room",
        free_MB >= LEAST_FREE_MB,
        f"{free_MB:.0f} MB free",
        f"less than {LEAST_FREE_MB} MB: make room",
    )


def _commit_s(trial: Path) -> float:
    """Median time of a commit; opening refuses a SQLite that does not write through."""
    _remove(trial)
    db, _ = open_or_renew(trial)
    try:
        db.execute("CREATE TABLE trial (payload BLOB)")
        took_s: list[float] = []
        for _ in range(COMMITS):
            begun_s = time.monotonic()
            db.execute("BEGIN IMMEDIATE")
            db.execute("INSERT INTO trial VALUES (?)", (os.urandom(4096),))
            db.execute("COMMIT")
            took_s.append(time.monotonic() - begun_s)
        if db.execute("SELECT count(*) FROM trial").fetchone()[0] != COMMITS:
            raise SpoolError(f"{trial}: what was written is not there")
        return median(took_s)
    finally:
        db.close()
        _remove(trial)


def _remove(trial: Path) -> None:
    for tail in ("", "-wal", "-shm"):
        trial.with_name(trial.name + tail).unlink(missing_ok=True)


def check_broker(target: UplinkTarget | None, client_id: str) -> Findings:
    """Say hello to the broker as the agent will, with its name, password and TLS."""
    part = Part("broker")
    if target is None:
        yield part.not_asked("reached", "no [uplink] in the bench file: nothing is sent")
        return
    try:
        settings = broker_of(target)
    except DrainscaleError as error:
        yield part.fail("reached", str(error))
        return
    if settings is not None:
        yield _reach(part, settings, client_id)


def _reach(part: Part, settings: BrokerSettings, client_id: str) -> Finding:
    where = f"{settings.host}:{settings.port}"
    mend = "is the server on, name and password right? the kit measures and keeps meanwhile"
    try:
        from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags
        from paho.mqtt.enums import CallbackAPIVersion
        from paho.mqtt.properties import Properties
        from paho.mqtt.reasoncodes import ReasonCode
    except ImportError:
        return part.fail("reached", "the package paho-mqtt is missing", "install drainscale[pi]")
    answered, answers = threading.Event(), list[str]()

    def on_connect(
        _client: Client,
        _data: object,
        _flags: ConnectFlags,
        code: ReasonCode,
        _p: Properties | None,
    ) -> None:
        answers.append("" if not code.is_failure else str(code))
        answered.set()

    def on_disconnect(
        _client: Client,
        _data: object,
        _flags: DisconnectFlags,
        _code: ReasonCode,
        _p: Properties | None,
    ) -> None:
        answered.set()

    client = Client(CallbackAPIVersion.VERSION2, client_id, clean_session=True)
    client.on_connect, client.on_disconnect = on_connect, on_disconnect
    client.connect_timeout = REACH_S
    try:
        if settings.user is not None:
            client.username_pw_set(settings.user, settings.password)
        if settings.is_tls:
            client.tls_set(ca_certs=str(settings.ca_file) if settings.ca_file else None)
        client.connect(settings.host, settings.port)
    except (OSError, ValueError) as error:
        return part.fail("reached", f"{where}: {error}", mend)
    client.loop_start()
    try:
        answered.wait(REACH_S)
        client.disconnect()
    finally:
        client.loop_stop()
    if answers == [""]:
        return part.judge("reached", True, f"{where} lets us in", "")
    return part.fail("reached", f"{where}: {answers[0] if answers else 'no answer'}", mend)


def check_clock(clock: Clock) -> Findings:
    """Tell whether the wall clock was set since the machine started."""
    is_set = clock.is_wall_set()
    yield Part("wall clock").judge(
        "set",
        is_set,
        "set since the start" if is_set else "not set since the start",
        "let it reach a time server; until then records have no right date, durations are right",
    )
