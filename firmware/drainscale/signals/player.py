"""Plays the present cue on lamps and sounder, from the vocabulary's patterns.

It keeps no time of its own: whoever owns the clock calls ``tick`` some twenty times a second.
"""

from collections import deque

from drainscale.ports import Indicator
from drainscale.signals.vocabulary import MOST_FLASHES_PER_S, Cue, Sound, Vocabulary, is_on

_ROUNDING_S = 1e-6  # a turn that falls on a pattern's edge belongs to what comes after it


class CuePlayer:
    """Shows one cue at a time.

    Args:
        vocabulary: What each cue looks and sounds like.
        indicator: Lamps and sounder.
        is_muted: Sound only what cannot be muted.
    """

    def __init__(
        self, vocabulary: Vocabulary, indicator: Indicator, *, is_muted: bool = False
    ) -> None:
        self._vocabulary = vocabulary
        self._indicator = indicator
        self.is_muted = is_muted
        self._name: str | None = None
        self._since_s = 0.0
        self._lit: frozenset[str] | None = None
        self._flashes_s: deque[float] = deque(maxlen=int(MOST_FLASHES_PER_S))
        self._pitch_Hz: float | None = None

    @property
    def cue(self) -> str | None:
        """The name of the cue that is shown."""
        return self._name

    def show(self, t: float, name: str) -> bool:
        """Show a cue from ``t`` on; return whether it is another than before.

        Raises:
            KeyError: A cue that the vocabulary does not have.
        """
        if name == self._name:
            return False
        self._vocabulary.cues[name]
        self._name, self._since_s = name, t
        return True

    def tick(self, t: float) -> None:
        """Bring lamps and sounder to where the cue's pattern is at ``t``."""
        if self._name is None:
            return
        cue, since = self._vocabulary.cues[self._name], t - self._since_s + _ROUNDING_S
        lit = frozenset([cue.lamp]) if self._vocabulary.is_lit(cue, since) else frozenset[str]()
        if lit != self._lit:
            self._show(t, lit)
        pitch = self._pitch_at(cue, since)
        if pitch != self._pitch_Hz:
            self._indicator.sound(pitch)
            self._pitch_Hz = pitch

    def _show(self, t: float, lit: frozenset[str]) -> None:
        """Change the lamps; one that would flash too soon after the others waits in the dark.

        A pattern alone keeps to the limit. Where one cue follows the other they add up, and the
        new lamp comes up to 0.4 s late.
        """
        if lit:
            flashes_s = self._flashes_s
            if len(flashes_s) == flashes_s.maxlen and t - flashes_s[0] < 1.0 - _ROUNDING_S:
                lit = frozenset()
            else:
                flashes_s.append(t)
        if lit != self._lit:
            self._indicator.show(lit)
            self._lit = lit

    def _pitch_at(self, cue: Cue, since_s: float) -> float | None:
        if cue.sound is None or (self.is_muted and not cue.is_urgent):
            return None
        sound = self._vocabulary.sounds[cue.sound]
        into = since_s % cue.repeat_s if cue.repeat_s else since_s
        return sound.pitch_Hz if _is_sounding(sound, into) else None

    def dark(self) -> None:
        """Lamps dark, sounder silent."""
        self._indicator.show(frozenset())
        self._indicator.sound(None)
        self._lit, self._pitch_Hz, self._name = frozenset(), None, None


def _is_sounding(sound: Sound, into_s: float) -> bool:
    """Whether one group of beeps, played once, sounds ``into_s`` after its begin."""
    return into_s < sum(sound.rhythm_s) and is_on(sound.rhythm_s, into_s)
