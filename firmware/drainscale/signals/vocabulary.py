"""The kit's cues, read from ``vocabulary.toml`` and held to the rules of signalling."""

from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from itertools import combinations

import msgspec

from drainscale.errors import InputError

MOST_FLASHES_PER_S = 3.0  # WCAG 2, success criterion 2.3.1
REPLY_BEEPS = 2  # no cue has so many
CUE_NAMES = ("wait", "go-on", "get-ready", "open", "shut", "add", "stop", "fault")


class Lamp(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One lamp of the column; their order in the file is from top to bottom."""

    name: str
    means: str


class Sound(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A group of beeps: seconds sounding, silent, sounding, ..."""

    pitch_Hz: float
    rhythm_s: tuple[float, ...]

    @property
    def beeps(self) -> int:
        """Count the beeps of the group."""
        return (len(self.rhythm_s) + 1) // 2


class Cue(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One cue: its words, its lamp and pattern, its sound, and what it asks for."""

    word: str
    symbol: str
    text: str
    means: str
    lamp: str
    pattern: str
    asks: str | None = None
    sound: str | None = None
    repeat_s: float | None = None
    is_urgent: bool = False  # cannot be muted


class Replies(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The sounds that answer a press of the foot switch."""

    taken: str  # it answered what was asked, or began a step; it is kept
    not_asked: str  # it was heard, and nothing was asked


class Vocabulary(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """All cues, with the lamps, patterns and sounds that they are made of."""

    version: int
    replies: Replies
    lamps: tuple[Lamp, ...]
    patterns: dict[str, tuple[float, ...]]
    sounds: dict[str, Sound]
    cues: dict[str, Cue]

    def is_lit(self, cue: Cue, t: float) -> bool:
        """Tell whether the cue's lamp is lit ``t`` seconds after the cue began."""
        return is_on(self.patterns[cue.pattern], t)


def is_on(pattern_s: tuple[float, ...], t: float) -> bool:
    """Tell whether a pattern of on and off times is on at ``t``.

    Args:
        pattern_s: Seconds on, off, on, off, ...; empty: on all the time.
        t: Seconds since it began; the pattern repeats.
    """
    if not pattern_s:
        return True
    rest = t % sum(pattern_s)
    for index, lasts_s in enumerate(pattern_s):
        if rest < lasts_s:
            return index % 2 == 0
        rest -= lasts_s
    return False


def most_flashes_in_a_second(pattern_s: tuple[float, ...]) -> int:
    """Count how many times a pattern lights up within any one second at most."""
    if not pattern_s:
        return 0
    starts, t = [], 0.0
    while t < 1.0 + sum(pattern_s):
        for index, lasts_s in enumerate(pattern_s):
            if index % 2 == 0:
                starts.append(t)
            t += lasts_s
    return max(sum(first <= t < first + 1.0 - 1e-9 for t in starts) for first in starts)


@cache
def vocabulary() -> Vocabulary:
    """Return the kit's own vocabulary."""
    text = files("drainscale.signals").joinpath("vocabulary.toml").read_text(encoding="utf-8")
    return read_vocabulary(text)


def read_vocabulary(text: str) -> Vocabulary:
    """Read a vocabulary and check it.

    Raises:
        InputError: It is no vocabulary, or a cue breaks a rule of signalling; names which.
    """
    try:
        read = msgspec.toml.decode(text, type=Vocabulary)
    except msgspec.DecodeError as error:
        raise InputError(f"vocabulary: {error}") from error
    broken = next(_breaches(read), None)
    if broken is not None:
        raise InputError(f"vocabulary: {broken}")
    return read


def _breaches(read: Vocabulary) -> Iterator[str]:
    if tuple(sorted(read.cues)) != tuple(sorted(CUE_NAMES)):
        yield f"its cues are {sorted(read.cues)}, due are {sorted(CUE_NAMES)}"
    for name, pattern_s in read.patterns.items():
        if min(pattern_s, default=1.0) <= 0.0 or len(pattern_s) % 2:
            yield f"pattern {name}: on and off times must come in pairs above 0"
        elif most_flashes_in_a_second(pattern_s) > MOST_FLASHES_PER_S:
            yield f"pattern {name}: more than {MOST_FLASHES_PER_S:g} flashes a second"
    for name, cue in read.cues.items():
        yield from _breaches_of_cue(read, name, cue)
    yield from _breaches_of_replies(read)
    for (one, a), (other, b) in combinations(read.cues.items(), 2):
        if (a.lamp, a.pattern) == (b.lamp, b.pattern):
            yield f"{one} and {other} look the same"
        if a.sound is not None and a.sound == b.sound:
            yield f"{one} and {other} sound the same"
        if a.symbol == b.symbol or a.word == b.word:
            yield f"{one} and {other} share word or symbol"


def _breaches_of_replies(read: Vocabulary) -> Iterator[str]:
    names = (read.replies.taken, read.replies.not_asked)
    for name in names:
        if name not in read.sounds:
            yield f"replies: no sound {name!r}"
        elif read.sounds[name].beeps != REPLY_BEEPS:
            yield f"replies: {name!r} has not {REPLY_BEEPS} beeps"
    if names[0] == names[1]:
        yield "replies: both sound the same"


def _breaches_of_cue(read: Vocabulary, name: str, cue: Cue) -> Iterator[str]:
    if cue.lamp not in {lamp.name for lamp in read.lamps}:
        yield f"{name}: no lamp {cue.lamp!r}"
    if cue.pattern not in read.patterns:
        yield f"{name}: no pattern {cue.pattern!r}"
    if cue.sound is not None and cue.sound not in read.sounds:
        yield f"{name}: no sound {cue.sound!r}"
    elif cue.sound is not None and read.sounds[cue.sound].beeps == REPLY_BEEPS:
        yield f"{name}: {REPLY_BEEPS} beeps answer a press of the foot switch"
    if (cue.sound is None) != (cue.asks is None):
        yield f"{name}: a cue sounds if, and only if, it asks for an action"
    if (cue.repeat_s is None) != (cue.asks is None):
        yield f"{name}: a cue repeats if, and only if, it asks for an action"
    if cue.is_urgent and cue.asks is None:
        yield f"{name}: urgent, but asks for nothing"
