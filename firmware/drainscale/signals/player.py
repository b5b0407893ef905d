"""Plays the present cue on lamps and sounder, from the vocabulary's patterns.

It keeps no time of its own: whoever owns the clock calls ``tick`` some twenty times a second.
"""

from collections import deque

from drainscale.ports import Indicator
from drainscale.signals.vocabulary import MOST_FLASHES_PER_S, Cue, Sound, Vocabulary, is_on

PAUSE_S = 0.5  # between an answer and a cue's own beeps, so that they are not counted together
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
        self._sounds_since_s = 0.0  # its beeps began then; after an answer they begin anew
        self._lit: frozenset[str] | None = None
        self._flashes_s: deque[float] = deque(maxlen=int(MOST_FLASHES_PER_S))
        self._pitch_Hz: float | None = None
        self._sounded_s = float("-inf")
        self._reply: tuple[float, Sound] | None = None
        self._next_reply: Sound | None = None  # comes after an urgent cue's beeps
        self._whole_until_s = float("-inf")  # so long beeps play that an answer had put off

    @property
    def cue(self) -> str | None:
        """The name of the cue that is shown."""
        return self._name

    @property
    def is_replying(self) -> bool:
        """Whether the answer to a press still sounds."""
        return self._reply is not None

    def show(self, t: float, name: str) -> bool:
        """Show a cue from ``t`` on; return whether it is another than before.

        Raises:
            KeyError: A cue that the vocabulary does not have.
        """
        if name == self._name:
            return False
        self._vocabulary.cues[name]
        self._name, self._since_s, self._sounds_since_s = name, t, t
        self._whole_until_s = float("-inf")  # the cue that is gone is owed nothing
        return True

    def reply(self, t: float, *, is_taken: bool) -> None:
        """Answer a press of the foot switch, once, from ``t`` on; the cue's own beeps wait.

        Where some sounded just then, the answer comes after a pause. Of an urgent cue one group is
        played whole between two answers: who presses again and again cannot silence it.
        """
        if self.is_muted:
            return
        replies = self._vocabulary.replies
        sound = self._vocabulary.sounds[replies.taken if is_taken else replies.not_asked]
        if self._reply is not None and self._is_urgent:
            self._next_reply = sound
        else:
            self._reply = (max(t, self._sounded_s + PAUSE_S, self._whole_until_s + PAUSE_S), sound)

    @property
    def _is_urgent(self) -> bool:
        return self._name is not None and self._vocabulary.cues[self._name].is_urgent

    def tick(self, t: float) -> None:
        """Bring lamps and sounder to where the cue's pattern is at ``t``."""
        if self._name is None:
            return
        cue, since = self._vocabulary.cues[self._name], t - self._since_s + _ROUNDING_S
        lit = frozenset([cue.lamp]) if self._vocabulary.is_lit(cue, since) else frozenset[str]()
        if lit != self._lit:
            self._show(t, lit)
        pitch = self._pitch_at(cue, t) if self._reply is None else self._replies_with(cue, t)
        if pitch is not None:
            self._sounded_s = t
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

    def _replies_with(self, cue: Cue, t: float) -> float | None:
        assert self._reply is not None
        began_s, sound = self._reply
        into_s = t - began_s + _ROUNDING_S
        if into_s >= sum(sound.rhythm_s) + PAUSE_S:
            self._end_reply(cue, began_s, t)
            return self._pitch_at(cue, t)
        if into_s < -PAUSE_S:  # it waits for beeps of the cue
            return self._pitch_at(cue, t)
        return sound.pitch_Hz if into_s >= 0.0 and _is_sounding(sound, into_s) else None

    def _end_reply(self, cue: Cue, began_s: float, t: float) -> None:
        if self._is_cut(cue, began_s - PAUSE_S + _ROUNDING_S, t):
            self._sounds_since_s = t
            if cue.is_urgent and cue.sound is not None:
                self._whole_until_s = t + sum(self._vocabulary.sounds[cue.sound].rhythm_s)
        self._reply, sound = None, self._next_reply
        if sound is not None:
            self._next_reply = None
            self._reply = (max(t, self._whole_until_s + PAUSE_S), sound)

    def _is_cut(self, cue: Cue, from_s: float, to_s: float) -> bool:
        """Whether beeps of the cue were due in that time: they are then played whole, later."""
        if cue.sound is None:
            return False
        since_s = self._sounds_since_s
        last_s = since_s
        if cue.repeat_s:
            last_s += max((to_s - since_s) // cue.repeat_s, 0.0) * cue.repeat_s
        return last_s + sum(self._vocabulary.sounds[cue.sound].rhythm_s) > from_s

    def _pitch_at(self, cue: Cue, t: float) -> float | None:
        if cue.sound is None or (self.is_muted and not cue.is_urgent):
            return None
        sound, since_s = self._vocabulary.sounds[cue.sound], t - self._sounds_since_s + _ROUNDING_S
        into = since_s % cue.repeat_s if cue.repeat_s else since_s
        return sound.pitch_Hz if _is_sounding(sound, into) else None

    def dark(self) -> None:
        """Lamps dark, sounder silent."""
        self._indicator.show(frozenset())
        self._indicator.sound(None)
        self._lit, self._pitch_Hz, self._name = frozenset(), None, None
        self._reply = self._next_reply = None


def _is_sounding(sound: Sound, into_s: float) -> bool:
    """Whether one group of beeps, played once, sounds ``into_s`` after its begin."""
    return into_s < sum(sound.rhythm_s) and is_on(sound.rhythm_s, into_s)
