"""Which numbers of a bench are accounted for, and which can never come. Pure.

For each start of a bench's agent (boot) the server says one number, ``through``: up to there
every message is stored, in quarantine, or lost for good. It never passes a hole.

A hole closes in one of three ways: its message comes; the bench says that it can't come any more
(``Status.kept``); or it turns out that its message is one that was unreadable.
"""

from collections import Counter
from collections.abc import Iterable, Mapping

SAME_PLACE_N = 2  # so often must an unreadable message come at one place to count as that number
SUSPECTS_N = 1000


class Tally:
    """The numbers of one start.

    Args:
        through: Up to here all is accounted for.
        beyond: Numbers above that are, too.
    """

    def __init__(self, through: int = 0, beyond: Iterable[int] = ()) -> None:
        self._through = through
        self._beyond = set(beyond)
        self._advance()

    @property
    def through(self) -> int:
        """Up to here all is accounted for, without a hole."""
        return self._through

    def has(self, seq: int) -> bool:
        """Whether a number is accounted for."""
        return seq <= self._through or seq in self._beyond

    def add(self, seq: int) -> None:
        """Account for a number; harmless if it is."""
        if seq == self._through + 1:
            self._through = seq
            if self._beyond:
                self._advance()
        elif seq > self._through:
            self._beyond.add(seq)

    def give_up_below(self, first: int) -> int:
        """Account for all below ``first``; tell how many of them are lost."""
        if first - 1 <= self._through:
            return 0
        there = {seq for seq in self._beyond if seq < first}
        lost_n = first - 1 - self._through - len(there)
        self._beyond -= there
        self._through = first - 1
        self._advance()
        return lost_n

    def give_up_holes(self) -> int:
        """Account for all up to the highest number; tell how many of them are lost."""
        return self.give_up_below(max(self._beyond) + 1) if self._beyond else 0

    def _advance(self) -> None:
        self._beyond -= {seq for seq in self._beyond if seq <= self._through}
        while self._through + 1 in self._beyond:
            self._through += 1
            self._beyond.remove(self._through)


def lost_by(
    present: str, kept: Mapping[str, int], tallies: Mapping[str, Tally], *, is_retained: bool
) -> dict[str, int]:
    """Close the holes that a bench's status says can't be filled any more.

    Below ``first`` of a start that it lists, and of earlier starts that it does not list, nothing
    can come again. A status that the broker had kept may be older than what we know, so it tells
    nothing of what it does not list; and none tells anything of later starts than its own.

    Args:
        present: The start that sent it.
        kept: ``first`` of each start that it lists.
        tallies: All its starts that are known, in the order in which they were heard of.
        is_retained: Whether the broker had kept it.

    Returns:
        How many numbers are lost, of each start whose ``through`` moved.
    """
    moved: dict[str, int] = {}
    is_earlier = present in kept and not is_retained
    for boot, tally in tallies.items():
        is_earlier = is_earlier and boot != present
        before, lost_n = tally.through, 0
        if boot in kept:
            lost_n = tally.give_up_below(kept[boot])
        elif is_earlier:
            lost_n = tally.give_up_holes()
        if tally.through != before:
            moved[boot] = lost_n
    return moved


class Places:
    """Which number a message has that can't be read at all.

    A bench sends in order. So if one unreadable message stood directly before number n, and n - 1
    is missing, it may be that. The bench sends it again; if it stands there a second time, it is.
    Else the bench would send it for ever, and nothing behind it would ever be acknowledged.
    """

    def __init__(self) -> None:
        self._before: list[bytes] = []
        self._suspects: Counter[tuple[str, int, bytes]] = Counter()

    def unreadable(self, digest: bytes) -> None:
        """A message of this bench came that can't be read."""
        if len(self._before) < SAME_PLACE_N:  # more than one: nobody can tell which is which
            self._before.append(digest)

    def numbered(self, boot: str, seq: int, tally: Tally) -> bytes | None:
        """A message of this bench came that can be.

        Returns:
            The digest of the unreadable one that number ``seq - 1`` must be, if that is sure now.
        """
        before, self._before = self._before, []
        if len(before) != 1 or seq < 2 or tally.has(seq - 1):
            return None
        suspect = (boot, seq - 1, before[0])
        if len(self._suspects) >= SUSPECTS_N:
            self._suspects.clear()
        self._suspects[suspect] += 1
        if self._suspects[suspect] < SAME_PLACE_N:
            return None
        del self._suspects[suspect]
        return before[0]
