"""What could not be read or stored, kept with the reason. Within a writer's transaction."""

import sqlite3
from hashlib import sha256

import msgspec

from drainscale_server.store.rows import QuarantineKind

KEPT_BYTES = 4 * 1024 * 1024  # as much as a good message may have
TOPIC_CHARS = 200
REASON_CHARS = 500
UNNUMBERED_N = 10_000  # nobody was promised that these are kept; the oldest go first


class Misfit(msgspec.Struct, frozen=True, kw_only=True):
    """A message on its way into the quarantine.

    Attributes:
        boot: Place of the start that it belongs to, where its number could be read.
        size: Bytes that came, where ``payload`` is only their beginning.
    """

    kind: QuarantineKind
    reason: str
    topic: str
    payload: bytes
    received_s: float
    boot: int | None = None
    seq: int | None = None
    size: int | None = None


def put(db: sqlite3.Connection, misfit: Misfit) -> bool:
    """Keep a message; False if the same is there already, which counts as a repeat."""
    digest = sha256(misfit.topic.encode() + b"\0" + misfit.payload).digest()
    known = db.execute(
        "UPDATE quarantine SET repeats_n = repeats_n + 1 WHERE digest = ?", (digest,)
    )
    if known.rowcount:
        return False
    db.execute(
        "INSERT INTO quarantine (received_s, kind, reason, topic, boot, seq, size, digest, payload)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            misfit.received_s,
            misfit.kind,
            misfit.reason[:REASON_CHARS],
            misfit.topic[:TOPIC_CHARS],
            misfit.boot,
            misfit.seq,
            len(misfit.payload) if misfit.size is None else misfit.size,
            digest,
            misfit.payload[:KEPT_BYTES],
        ),
    )
    return True


def drop_oldest_unnumbered(db: sqlite3.Connection, keep_n: int = UNNUMBERED_N) -> int:
    """Make room: what has no number was never acknowledged to anybody."""
    return db.execute(
        "DELETE FROM quarantine WHERE seq IS NULL AND place <= (SELECT place FROM quarantine"
        " WHERE seq IS NULL ORDER BY place DESC LIMIT 1 OFFSET ?)",
        (keep_n,),
    ).rowcount
