"""What could not be read or stored, kept with the reason. Within a writer's transaction."""

import sqlite3
from hashlib import sha256

import msgspec

from drainscale.messages.codec import MAX_BYTES
from drainscale_server.store.rows import QuarantineKind

TOO_LARGE_BYTES = 64 * 1024  # kept of what is too large even for a good message
TOPIC_CHARS = 200
REASON_CHARS = 500
# Of what nobody was told that it is kept: it has no number, or its number is stored with
# something else. The oldest go first.
UNPROMISED_N = 10_000
_UNPROMISED = "(seq IS NULL OR kind = 'conflict')"


class Misfit(msgspec.Struct, frozen=True, kw_only=True):
    """A message on its way into the quarantine.

    Attributes:
        number: Site, bench, boot and number, where at least those could be read.
    """

    kind: QuarantineKind
    reason: str
    topic: str
    payload: bytes
    received_s: float
    number: tuple[str, str, str, int] | None = None

    @property
    def digest(self) -> bytes:
        """What tells it from others, and is the same when it comes again."""
        return sha256(self.topic.encode() + b"\0" + self.payload).digest()


def put(db: sqlite3.Connection, misfit: Misfit, boot: int | None) -> bool:
    """Keep a message; False if the same is there already, which counts as a repeat."""
    digest = misfit.digest
    known = db.execute(
        "UPDATE quarantine SET repeats_n = repeats_n + 1 WHERE digest = ?", (digest,)
    )
    if known.rowcount:
        return False
    is_too_large = len(misfit.payload) > MAX_BYTES
    db.execute(
        "INSERT INTO quarantine (received_s, kind, reason, topic, boot, seq, size, digest, payload)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            misfit.received_s,
            misfit.kind,
            misfit.reason[:REASON_CHARS],
            misfit.topic[:TOPIC_CHARS],
            boot,
            None if misfit.number is None else misfit.number[3],
            len(misfit.payload),
            digest,
            misfit.payload[:TOO_LARGE_BYTES] if is_too_large else misfit.payload,
        ),
    )
    return True


def drop_oldest(db: sqlite3.Connection) -> int:
    """Make room: drop the oldest of what nobody was told that it is kept."""
    return db.execute(
        f"DELETE FROM quarantine WHERE {_UNPROMISED} AND place <= (SELECT place FROM quarantine"
        f" WHERE {_UNPROMISED} ORDER BY place DESC LIMIT 1 OFFSET ?)",
        (UNPROMISED_N,),
    ).rowcount
