"""Read cues out of lamps, and answers out of beeps, as a person does: by pattern and by counting.

He knows the vocabulary, not the kit: nothing here asks the kit which cue it means.
"""

from dataclasses import dataclass, field
from math import ceil, inf

from drainscale.signals.vocabulary import REPLY_BEEPS, Cue, vocabulary

WATCHED_S = 8.0
STEADY_AFTER_S = 2.4  # longer than any pattern stays lit
DARK_AFTER_S = 2.4
GROUP_ENDS_S = 0.4  # so much silence ends a group of beeps
LONG_BEEP_S = 0.25
FITS_S = 0.16  # how far from its pattern a flash may be and still be told apart


@dataclass
class Lamp:
    """What he remembers of one lamp: when it went on and off in the last seconds."""

    changes: list[tuple[float, bool]] = field(default_factory=list)

    def see(self, t: float, is_lit: bool) -> None:
        """Take in how it is from `t` on."""
        if not self.changes or self.changes[-1][1] != is_lit:
            self.changes.append((t, is_lit))
        while len(self.changes) > 2 and self.changes[1][0] < t - WATCHED_S:
            del self.changes[0]

    def spans(self) -> list[tuple[bool, float]]:
        """Whole lit and dark spans, oldest first."""
        pairs = zip(self.changes, self.changes[1:], strict=False)
        return [(lit, end - start) for (start, lit), (end, _) in pairs]

    def is_lit_since(self, t: float) -> float | None:
        """How long it is lit without a break, s; None if it is dark."""
        if not self.changes or not self.changes[-1][1]:
            return None
        return t - self.changes[-1][0]

    def is_dark(self, t: float) -> bool:
        """Whether it is out, not merely between two flashes."""
        if not self.changes:
            return True
        since, lit = self.changes[-1]
        return not lit and t - since > DARK_AFTER_S


@dataclass
class Eyes:
    """All lamps, and what they say."""

    lamps: dict[str, Lamp] = field(default_factory=dict)

    def see(self, t: float, lit: frozenset[str]) -> None:
        """Take in which lamps are lit from `t` on."""
        for lamp in vocabulary().lamps:
            self.lamps.setdefault(lamp.name, Lamp()).see(t, lamp.name in lit)

    def cue(self, t: float) -> str | None:
        """Name the cue that is shown; None while it cannot be told yet."""
        for place in vocabulary().lamps:  # from the top: what warns comes first
            lamp = self.lamps.get(place.name)
            if lamp is None or lamp.is_dark(t):
                continue
            return _told(lamp, place.name, t)
        return None


@dataclass
class Ears:
    """The last group of beeps."""

    beeps: list[tuple[float, float]] = field(default_factory=list)  # begin and end
    _begun_s: float | None = None

    def hear(self, t: float, pitch_Hz: float | None) -> None:
        """Take in the sounder as it is from `t` on."""
        if pitch_Hz is not None:
            if self.beeps and t - self.beeps[-1][1] > GROUP_ENDS_S:
                self.beeps.clear()
            self._begun_s = t
        elif self._begun_s is not None:
            self.beeps.append((self._begun_s, t))
            self._begun_s = None

    def answer(self, t: float, since_s: float) -> bool | None:
        """Tell what the kit answered to a press at `since_s`: yes, no, or nothing yet."""
        is_over = self._begun_s is None and self.beeps and t - self.beeps[-1][1] > GROUP_ENDS_S
        if not is_over or len(self.beeps) != REPLY_BEEPS or self.beeps[0][0] < since_s:
            return None
        return all(end - begin < LONG_BEEP_S for begin, end in self.beeps)


def _told(lamp: Lamp, name: str, t: float) -> str | None:
    book = vocabulary()
    here = {cue_name: cue for cue_name, cue in book.cues.items() if cue.lamp == name}
    lit_s = lamp.is_lit_since(t)
    if lit_s is not None and lit_s > STEADY_AFTER_S:
        return next((n for n, cue in here.items() if not book.patterns[cue.pattern]), None)
    longest_s = max(sum(book.patterns[cue.pattern]) for cue in here.values())
    misfits = {n: _misfit_s(lamp, cue, longest_s) for n, cue in here.items()}
    best = min(misfits, key=lambda n: misfits[n], default=None)
    return best if best is not None and misfits[best] <= FITS_S else None


def _misfit_s(lamp: Lamp, cue: Cue, longest_s: float) -> float:
    """Worst difference of the last flashes from the cue's pattern, in s.

    As many rounds as the longest pattern of this lamp lasts: the first half of a double flash
    looks like a plain one.
    """
    once = vocabulary().patterns[cue.pattern]
    if not once:
        return inf
    pattern = once * ceil(longest_s / sum(once))
    spans = lamp.spans()[-len(pattern) :]
    if len(spans) < len(pattern):
        return inf
    starts = 0 if spans[0][0] else 1  # a pattern begins lit
    turns = range(starts, len(once), 2)
    return min(_worst_s(pattern[turn:] + pattern[:turn], spans) for turn in turns)


def _worst_s(pattern: tuple[float, ...], spans: list[tuple[bool, float]]) -> float:
    return max(abs(due - lasted) for due, (_, lasted) in zip(pattern, spans, strict=True))
