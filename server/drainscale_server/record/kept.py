"""What the record keeps of a job's samples when they are dropped. Pure.

The plots' curves are thinned already (a median in two seconds, a pan reading in five), so they
stay as they were; a recording can't be made of them any more.
"""

import zlib
from dataclasses import dataclass, field

import msgspec

from drainscale_server.record.digest import Digest

FORMAT = 1
NOT_KEPT = "not kept"


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What the record needs of the messages that are gone.

    Attributes:
        digest: Of the samples, as it was while they were there.
        messages_sha256, messages_n: Over all messages of the job, as they were then.
    """

    format: int = FORMAT
    digest: Digest = field(default_factory=Digest)
    messages_sha256: str = NOT_KEPT
    messages_n: int = 0


def packed(kept: Kept) -> bytes:
    """Write it for the store."""
    return zlib.compress(msgspec.json.encode(kept))


def unpacked(raw: bytes) -> Kept:
    """Read what ``packed`` wrote; one that can't be read counts as nothing kept.

    Example:
        >>> unpacked(packed(Kept(messages_n=7))).messages_n
        7
    """
    try:
        kept = msgspec.json.decode(zlib.decompress(raw), type=Kept)
    except (zlib.error, msgspec.DecodeError):
        return Kept()
    return kept if kept.format == FORMAT else Kept()
