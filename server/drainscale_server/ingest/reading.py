"""What a message is, or what is wrong with it. Pure.

Whatever the bytes are, this raises nothing: what can't be read becomes a ``Misfit``, with its
number if at least that can be found. For that, ``boot`` and ``seq`` stand in the same place in
every format to come, which ``docs/reference/messages.md`` promises.
"""

import re
from dataclasses import dataclass
from typing import Any

import msgspec

from drainscale.errors import MessageError
from drainscale.messages.codec import MAX_BYTES, decode
from drainscale.messages.records import FORMAT, Envelope
from drainscale.messages.telegrams import CommandAnswer, Live, Status
from drainscale.messages.topics import LEAVES, ROOT, BenchId
from drainscale_server.store.rows import QuarantineKind

MOST_SEQ = 2**53  # more than that, and a reader of JSON may take two numbers for one
BOOT_CHARS = 64
# a part of a path, a file's name and an address alike
_JOB = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
JOB_RULE = "1 to 64 of letters, digits, . _ and -, beginning with a letter or digit"


@dataclass(frozen=True, slots=True)
class Arrived:
    """One message as it came from the broker.

    Attributes:
        is_retained: The broker had kept it; nobody said it just now.
    """

    topic: str
    payload: bytes
    received_s: float
    is_retained: bool = False


@dataclass(frozen=True, slots=True)
class Number:
    """What names a message for ever."""

    site: str
    bench: str
    boot: str
    seq: int


@dataclass(frozen=True, slots=True)
class Numbered:
    """A message that is kept."""

    number: Number
    envelope: Envelope


@dataclass(frozen=True, slots=True)
class Told:
    """A message without a number: it only matters now."""

    bench_id: BenchId
    message: Status | Live | CommandAnswer


@dataclass(frozen=True, slots=True)
class Misfit:
    """A message that can't be read.

    Attributes:
        bench_id: Whose it is by its topic, as far as that tells.
        number: As far as that can be read.
        is_of_sequence: Its place in the sequence is open for as long as nobody knows its number.
    """

    kind: QuarantineKind
    reason: str
    bench_id: BenchId | None = None
    number: Number | None = None
    is_of_sequence: bool = False


Read = Numbered | Told | Misfit | None


def read(arrived: Arrived) -> Read:
    """Read a message; None if it is not for us: what the server itself says, or an empty one."""
    parts = arrived.topic.split("/")
    leaf = parts[-1]
    if leaf in LEAVES and not LEAVES[leaf].is_upward:
        return None
    if not arrived.payload and (leaf not in LEAVES or not LEAVES[leaf].is_numbered):
        return None  # a retained message was cleared
    try:
        message = decode(arrived.topic, arrived.payload)
    except MessageError as error:
        return _misfit(arrived, str(error))
    if isinstance(message, Envelope):
        return _numbered(message)
    if isinstance(message, Status | Live | CommandAnswer):
        return Told(BenchId(parts[1], parts[2]), message)
    return None


def _numbered(envelope: Envelope) -> Read:
    number = Number(envelope.site, envelope.bench, envelope.boot, envelope.seq)
    bench_id = BenchId(envelope.site, envelope.bench)
    if not is_usable(envelope.boot, envelope.seq):
        reason = f"boot of {len(envelope.boot)} characters or number {envelope.seq} is out of range"
        return Misfit("unreadable", reason, bench_id, is_of_sequence=True)
    if envelope.job is not None and not _JOB.fullmatch(envelope.job):
        return Misfit("unreadable", f"job {envelope.job!r}: {JOB_RULE}", bench_id, number)
    return Numbered(number, envelope)


def _misfit(arrived: Arrived, reason: str) -> Misfit:
    bench_id, leaf = _whose(arrived.topic)
    if bench_id is None:
        return Misfit("wrong-topic", reason)
    if leaf in LEAVES and not LEAVES[leaf].is_numbered:
        return Misfit(_kind(arrived, leaf, None), reason, bench_id)
    peek = _peek(arrived.payload)
    kind = _kind(arrived, leaf, peek.format)
    if peek.boot is None or peek.seq is None or not is_usable(peek.boot, peek.seq):
        # on an unknown leaf it need not be a numbered one at all
        return Misfit(kind, reason, bench_id, is_of_sequence=leaf in LEAVES)
    number = Number(bench_id.site, bench_id.bench, peek.boot, peek.seq)
    return Misfit(kind, reason, bench_id, number)


def _kind(arrived: Arrived, leaf: str, its_format: object) -> QuarantineKind:
    if len(arrived.payload) > MAX_BYTES:
        return "too-large"
    if isinstance(its_format, int) and its_format > FORMAT:
        return "newer-format"
    return "unreadable" if leaf in LEAVES else "wrong-topic"


def _whose(topic: str) -> tuple[BenchId | None, str]:
    parts = topic.split("/")
    if len(parts) != 4 or parts[0] != ROOT:
        return None, ""
    try:
        return BenchId(parts[1], parts[2]), parts[3]
    except MessageError:
        return None, ""


def is_usable(boot: str, seq: int) -> bool:
    """Whether a start and a number are such as a store can hold."""
    return 0 < len(boot) <= BOOT_CHARS and boot.isprintable() and 1 <= seq <= MOST_SEQ


class _Head(msgspec.Struct):
    format: Any = None
    boot: str | None = None
    seq: int | None = None


class _Record(msgspec.Struct):
    n: str = ""
    v: int | float | None = None
    vs: str | None = None


_HEAD = msgspec.json.Decoder(_Head)
_RECORDS = msgspec.json.Decoder(list[_Record])


def _peek(payload: bytes) -> _Head:
    """Find the number of a message that is otherwise not understood."""
    for way in (_peek_envelope, _peek_pack):
        try:
            return way(payload)
        except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
            continue
    return _Head()


def _peek_envelope(payload: bytes) -> _Head:
    return _HEAD.decode(payload)


def _peek_pack(payload: bytes) -> _Head:
    said = {record.n: record for record in reversed(_RECORDS.decode(payload))}
    head = _Head()
    if "format" in said:
        head.format = said["format"].v
    if "boot" in said and "seq" in said and isinstance(said["seq"].v, int):
        head.boot, head.seq = said["boot"].vs, said["seq"].v
    return head
