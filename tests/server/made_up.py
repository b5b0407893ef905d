"""Messages of a made-up bench, as they come from its broker, that the tests of the server share."""

from collections.abc import Iterable, Sequence

from tests.kit.uplink.made_up import BAY_3, OPENED, sample_at, samples_of

from drainscale.messages.codec import encode
from drainscale.messages.records import (
    Body,
    CueShown,
    Envelope,
    EventTold,
    FaultTold,
    JobClosed,
    Note,
    ResultFormed,
    Samples,
)
from drainscale.messages.topics import BenchId
from drainscale.uplink.batches import RunningJob, pack_of
from drainscale.uplink.spool import Spool
from drainscale_server.ingest.reading import Arrived
from drainscale_server.store.store import Store

RUNNING = RunningJob("j-1", OPENED)
RECEIVED_S = 1_790_180_000.0

# one of each kind, in the order of a service
BODIES: tuple[Body, ...] = (
    OPENED,
    pack_of(RUNNING, samples_of(0, 10)),
    EventTold(t=0.5, event="flow-started", step="drain"),
    CueShown(t=0.6, cue="wait", reason="draining", step="drain"),
    Note(t=0.7, key="fill-plug", by="foot-switch"),
    FaultTold(t=0.8, code="pan", text="the pan sensor is silent"),
    ResultFormed(t=0.9, is_final=False, result={"format": 1, "net": None}),
    ResultFormed(t=1.0, is_final=True, result={"format": 1, "net": {"volume_20C_L": 0.4}}),
    JobClosed(t=1.1, outcome="done"),
)


def pack(first: int, n: int) -> Samples:
    """Make a pack of ``n`` of the made-up samples from a number on."""
    return pack_of(RUNNING, samples_of(first, n))


def numbered(
    seq: int, body: Body, boot: str = "b1", job: str | None = "j-1", bench_id: BenchId = BAY_3
) -> Arrived:
    """Make a numbered message as it arrives."""
    envelope = Envelope(
        site=bench_id.site, bench=bench_id.bench, boot=boot, seq=seq, job=job, body=body
    )
    return Arrived(bench_id.topic(envelope.leaf), encode(envelope), RECEIVED_S + seq)


def service(boot: str = "b1", job: str = "j-1", bench_id: BenchId = BAY_3) -> list[Arrived]:
    """Make the messages of a whole, short job."""
    return [numbered(seq, body, boot, job, bench_id) for seq, body in enumerate(BODIES, start=1)]


def packs(first_seq: int, n: int, boot: str = "b1") -> list[Arrived]:
    """Make ``n`` packs of five samples, each number with samples of its own."""
    return [numbered(seq, pack(5 * seq, 5), boot) for seq in range(first_seq, first_seq + n)]


def payloads(messages: Iterable[Arrived]) -> list[bytes]:
    """Give their payloads."""
    return [one.payload for one in messages]


def stored_numbers(store: Store, boot: str = "b1") -> list[int]:
    """Ask the file itself which numbers of a start are stored."""
    with store._readers.lend() as db:
        rows = db.execute(
            "SELECT seq FROM message m JOIN boot b ON b.place = m.boot WHERE b.boot = ?"
            " ORDER BY seq",
            (boot,),
        )
        return [seq for (seq,) in rows.fetchall()]


def payloads_in_spool(spool: Spool, boot: str = "b1") -> list[bytes]:
    """Give all messages of a start that a kit has on its disk."""
    last = next(one.last for one in spool.standings() if one.boot == boot)
    return [one.payload for one in spool.messages(boot, 1, last)]


def through(store: Store, boot: str = "b1") -> int:
    """Ask the file itself up to where a start is acknowledged."""
    with store._readers.lend() as db:
        row = db.execute("SELECT through FROM boot WHERE boot = ?", (boot,)).fetchone()
        return 0 if row is None else int(row[0])


__all__: Sequence[str] = (
    "BAY_3", "BODIES", "OPENED", "RECEIVED_S", "RUNNING",
    "numbered", "pack", "packs", "payloads", "payloads_in_spool", "sample_at", "samples_of",
    "service", "stored_numbers", "through",
)  # fmt: skip
