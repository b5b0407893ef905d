from importlib.resources import files
from itertools import pairwise

import pytest

from drainscale.errors import InputError
from drainscale.signals.vocabulary import (
    CUE_NAMES,
    Cue,
    is_on,
    most_flashes_in_a_second,
    read_vocabulary,
    vocabulary,
)

TEXT = files("drainscale.signals").joinpath("vocabulary.toml").read_text(encoding="utf-8")


def mean_flashes_per_s(pattern_s: tuple[float, ...]) -> float:
    return (len(pattern_s) / 2) / sum(pattern_s)


def lamp_of(name: str) -> str:
    return vocabulary().cues[name].lamp


def test_there_are_eight_cues_and_four_lamps_from_red_to_white() -> None:
    assert set(vocabulary().cues) == set(CUE_NAMES)
    assert [lamp.name for lamp in vocabulary().lamps] == ["red", "amber", "blue", "white"]


# Source: IEC 60073 as quoted in open textbooks: red danger, yellow abnormal, blue mandatory
# action, white no specific meaning.
def test_colours_mean_what_the_standard_says() -> None:
    assert lamp_of("stop") == "red"
    assert lamp_of("get-ready") == lamp_of("fault") == "amber"
    assert lamp_of("open") == lamp_of("shut") == lamp_of("add") == "blue"
    assert lamp_of("wait") == lamp_of("go-on") == "white"


# Source: IEC 60073, from memory: slow 0.4 to 0.8 Hz, normal 1.4 to 2.8 Hz.
@pytest.mark.parametrize(
    ("pattern", "low_Hz", "high_Hz"),
    [("slow", 0.4, 0.8), ("normal", 1.4, 2.8), ("fast", 1.4, 2.8)],
)
def test_flash_rates_lie_in_the_standard_bands(pattern: str, low_Hz: float, high_Hz: float) -> None:
    assert low_Hz <= mean_flashes_per_s(vocabulary().patterns[pattern]) <= high_Hz


# Source: WCAG 2, success criterion 2.3.1: at most three flashes in any one second.
@pytest.mark.parametrize("pattern", sorted(vocabulary().patterns))
def test_nothing_flashes_more_than_three_times_in_a_second(pattern: str) -> None:
    assert most_flashes_in_a_second(vocabulary().patterns[pattern]) <= 3


def test_flashes_are_counted_in_the_worst_second() -> None:
    assert most_flashes_in_a_second((0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 2.0)) == 4


@pytest.mark.parametrize("name", ["shut", "stop", "fault"])
def test_what_cannot_wait_cannot_be_muted(name: str) -> None:
    assert vocabulary().cues[name].is_urgent


# Source: five beeps for what cannot wait, three for an action, one for notice: the ordering of
# IEC 60601-1-8, from memory; its melodies are not used.
@pytest.mark.parametrize(
    ("cue", "beeps"),
    [("stop", 5), ("shut", 5), ("open", 3), ("add", 3), ("fault", 3), ("get-ready", 1)],
)
def test_more_beeps_for_more_hurry(cue: str, beeps: int) -> None:
    sound = vocabulary().cues[cue].sound
    assert sound is not None
    assert vocabulary().sounds[sound].beeps == beeps


# Source: NUREG-0700: tones that may sound together lie at least 20 % apart.
def test_pitches_are_equal_or_a_fifth_part_apart() -> None:
    pitches = sorted({sound.pitch_Hz for sound in vocabulary().sounds.values()})
    assert all(high / low >= 1.2 for low, high in pairwise(pitches))


def test_answers_to_a_press_are_told_from_every_cue_by_counting() -> None:
    book = vocabulary()
    yes, no = (book.sounds[name] for name in (book.replies.taken, book.replies.not_asked))
    assert yes.beeps == no.beeps == 2
    assert all(book.sounds[cue.sound].beeps != 2 for cue in book.cues.values() if cue.sound)
    assert no.rhythm_s[0] > 3 * yes.rhythm_s[0]


def test_every_cue_that_repeats_pauses_between_its_beeps() -> None:
    for cue in vocabulary().cues.values():
        if cue.sound is not None and cue.repeat_s is not None:
            assert sum(vocabulary().sounds[cue.sound].rhythm_s) < 0.6 * cue.repeat_s


def test_a_pattern_begins_lit_and_repeats() -> None:
    double = (0.25, 0.25, 0.25, 0.75)
    assert [is_on(double, t) for t in (0.0, 0.3, 0.6, 0.8, 1.5, 1.8)] == [
        True, False, True, False, True, False,
    ]  # fmt: skip


def test_a_steady_lamp_is_always_lit() -> None:
    cue: Cue = vocabulary().cues["go-on"]
    assert all(vocabulary().is_lit(cue, t) for t in (0.0, 0.5, 100.0))


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ('pattern = "fast"', 'pattern = "quick"', "stop: no pattern 'quick'"),
        ('lamp = "red"', 'lamp = "green"', "stop: no lamp 'green'"),
        ('sound = "stop"', 'sound = "bell"', "stop: no sound 'bell'"),
        ('sound = "stop"', 'sound = "shut"', "shut and stop sound the same"),
        ('pattern = "long"', 'pattern = "normal"', "open and add look the same"),
        ('symbol = "×"', 'symbol = "?"', "stop and fault share word or symbol"),
        ("fast = [0.2, 0.2]", "fast = [0.1, 0.1]", "pattern fast: more than 3 flashes a second"),
        ("fast = [0.2, 0.2]", "fast = [0.2]", "pattern fast: on and off times"),
        ('asks = "add fluid"\n', "", "add: a cue sounds if, and only if, it asks"),
        ('taken = "taken"', 'taken = "bell"', "replies: no sound 'bell'"),
        ('taken = "taken"', 'taken = "open"', "replies: 'open' has not 2 beeps"),
        ('taken = "taken"', 'taken = "not-asked"', "replies: both sound the same"),
        ('sound = "open"', 'sound = "taken"', "open: 2 beeps answer a press"),
        ("repeat_s = 3\n", "", "stop: a cue repeats if, and only if, it asks"),
        ("[cues.wait]", "[cues.rest]", "its cues are"),
        ("version = 1", 'version = "one"', "Expected `int`, got `str` - at `$.version`"),
        ("version = 1", "version = 1\ncolour = 3", "unknown field `colour`"),
        ("version = 1", "version = ", "Invalid value"),
    ],
)
def test_a_vocabulary_that_breaks_a_rule_is_refused(old: str, new: str, complaint: str) -> None:
    assert old in TEXT
    with pytest.raises(InputError) as refused:
        read_vocabulary(TEXT.replace(old, new, 1))
    assert complaint in str(refused.value)
