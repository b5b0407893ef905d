"""Topics: ``drainscale/<site>/<bench>/<leaf>``, and how a message on each is to be sent.

What a leaf means stands in ``docs/reference/messages.md``; a test holds the two together.
"""

import re
from dataclasses import dataclass

from drainscale.errors import MessageError

ROOT = "drainscale"
# short, and without what MQTT (levels, wildcards) or a file name would trip over
_NAME = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,30}[a-z0-9])?")
NAME_RULE = "1 to 32 of a-z, 0-9 and -, not beginning or ending with -"


@dataclass(frozen=True, slots=True)
class Sending:
    """How a message of one leaf travels.

    Attributes:
        is_upward: From the kit to the server.
        is_numbered: Kept in the spool until the server has acknowledged its number.
        qos: 1: at least once over each link; 0: at most once.
        is_retained: The broker hands the last one to whoever subscribes later.
    """

    is_upward: bool
    is_numbered: bool = False
    qos: int = 1
    is_retained: bool = False


NUMBERED = Sending(is_upward=True, is_numbered=True)

LEAVES: dict[str, Sending] = {
    "job-opened": NUMBERED,
    "samples": NUMBERED,
    "event": NUMBERED,
    "cue": NUMBERED,
    "note": NUMBERED,
    "fault": NUMBERED,
    "result": NUMBERED,
    "job-closed": NUMBERED,
    "status": Sending(is_upward=True, is_retained=True),
    "live": Sending(is_upward=True, qos=0),
    "answer": Sending(is_upward=True),
    "ack": Sending(is_upward=False),
    "job": Sending(is_upward=False, is_retained=True),
    "command": Sending(is_upward=False),
}


@dataclass(frozen=True, slots=True, order=True)
class BenchId:
    """One bench of one site.

    Raises:
        MessageError: A name that breaks ``NAME_RULE``.

    Example:
        >>> BenchId("north", "bay-3").topic("status")
        'drainscale/north/bay-3/status'
    """

    site: str
    bench: str

    def __post_init__(self) -> None:
        for what, name in (("site", self.site), ("bench", self.bench)):
            if not _NAME.fullmatch(name):
                raise MessageError(f"{what} {name!r}: {NAME_RULE}")

    def topic(self, leaf: str) -> str:
        """Name the topic of a leaf.

        Raises:
            KeyError: No such leaf.
        """
        if leaf not in LEAVES:
            raise KeyError(leaf)
        return f"{ROOT}/{self.site}/{self.bench}/{leaf}"

    @property
    def base_name(self) -> str:
        """Name the bench as SenML base name; neither part can hold the dot."""
        return f"urn:dev:ops:{self.site}.{self.bench}:"


def split_topic(topic: str) -> tuple[BenchId, str]:
    """Tell bench and leaf of a topic.

    Raises:
        MessageError: Not a topic of ours.
    """
    parts = topic.split("/")
    if len(parts) != 4 or parts[0] != ROOT or parts[3] not in LEAVES:
        raise MessageError(f"{topic!r}: not {ROOT}/<site>/<bench>/ and a known leaf")
    return BenchId(parts[1], parts[2]), parts[3]
