"""Cues played in time on a made-up indicator: patterns, flashes, repeats, mute."""

from collections.abc import Sequence
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.signals.player import CuePlayer
from drainscale.signals.vocabulary import CUE_NAMES, vocabulary

TICK_S = 0.05  # as the agent's loop turns
Shown = list[tuple[float, frozenset[str]]]
Heard = list[tuple[float, float | None]]


class Column:
    """Keeps what lamps and sounder were told."""

    def __init__(self) -> None:
        self.t = 0.0
        self.shown: Shown = []
        self.heard: Heard = []

    def show(self, lit: frozenset[str]) -> None:
        self.shown.append((self.t, lit))

    def sound(self, pitch_Hz: float | None) -> None:
        self.heard.append((self.t, pitch_Hz))

    def close(self) -> None:
        self.show(frozenset())
        self.sound(None)


def play(cues: Sequence[tuple[float, str]], *, is_muted: bool = False) -> Column:
    """Show cues for so many seconds each, ticking as the agent does."""
    column = Column()
    player = CuePlayer(vocabulary(), column, is_muted=is_muted)
    turn = 0
    for lasts_s, name in cues:
        for _ in range(round(lasts_s / TICK_S)):
            column.t = round(turn * TICK_S, 3)
            player.show(column.t, name)
            player.tick(column.t)
            turn += 1
    column.t = round(turn * TICK_S, 3)
    return column


def lit_s(column: Column) -> float:
    """Seconds with any lamp lit."""
    ends = [*(t for t, _ in column.shown[1:]), column.t]
    return sum(end - t for (t, lit), end in zip(column.shown, ends, strict=True) if lit)


def flashes(shown: Shown) -> list[float]:
    """When any lamp went on that was off."""
    before = [(float("-inf"), frozenset[str]()), *shown]
    return [t for (_, was), (t, lit) in pairwise(before) if lit - was]


def groups(heard: Heard) -> list[list[float]]:
    """When beeps began, in groups that at least a second of silence divides."""
    found: list[list[float]] = []
    silent_since = float("-inf")
    for t, pitch_Hz in heard:
        if pitch_Hz is None:
            silent_since = t
        elif t - silent_since >= 1.0:
            found.append([t])
        else:
            found[-1].append(t)
    return found


@pytest.mark.parametrize("name", CUE_NAMES)
def test_only_the_lamp_of_the_cue_is_ever_lit(name: str) -> None:
    lamps = frozenset[str]().union(*(lit for _, lit in play([(20.0, name)]).shown))
    assert lamps == {vocabulary().cues[name].lamp}


# Lit share of each pattern, as its on and off times in the data file have it.
@pytest.mark.parametrize(
    ("name", "share"),
    [
        ("go-on", 1.0),
        ("wait", 0.5),
        ("get-ready", 0.5),
        ("open", 0.5),
        ("shut", 1 / 3),
        ("add", 0.8),
        ("stop", 0.5),
        ("fault", 1 / 3),
    ],
)
def test_pattern_is_kept_over_a_minute(name: str, share: float) -> None:
    assert lit_s(play([(60.0, name)])) / 60.0 == pytest.approx(share, abs=0.02)


def test_pattern_begins_lit_with_the_cue() -> None:
    column = play([(1.0, "go-on"), (0.7, "stop")])
    red = [(t, lit) for t, lit in column.shown if t >= 1.0]
    assert red == [
        (1.0, frozenset(["red"])),
        (1.2, frozenset()),
        (1.4, frozenset(["red"])),
        (1.6, frozenset()),
    ]


# Source: WCAG 2, success criterion 2.3.1: not more than three flashes in any one second.
def most_in_a_second(times: list[float]) -> int:
    return max((sum(t <= u < t + 1.0 - 1e-9 for u in times) for t in times), default=0)


@pytest.mark.parametrize("name", CUE_NAMES)
def test_no_cue_flashes_more_than_three_times_in_a_second(name: str) -> None:
    assert most_in_a_second(flashes(play([(30.0, name)]).shown)) <= 3


# the agent forms a cue anew every half second, so none stands shorter
@given(st.lists(st.tuples(st.integers(1, 6).map(lambda n: 0.5 * n), st.sampled_from(CUE_NAMES)),
                min_size=1, max_size=12))  # fmt: skip
def test_cues_that_change_as_fast_as_they_can_do_not_flash_faster(
    cues: list[tuple[float, str]],
) -> None:
    assert most_in_a_second(flashes(play(cues).shown)) <= 3


@pytest.mark.parametrize("name", CUE_NAMES)
def test_cue_sounds_if_and_only_if_it_asks_for_something(name: str) -> None:
    is_heard = any(pitch_Hz for _, pitch_Hz in play([(60.0, name)]).heard)
    assert is_heard == (vocabulary().cues[name].asks is not None)


@pytest.mark.parametrize("name", [n for n in CUE_NAMES if vocabulary().cues[n].asks])
def test_cue_repeats_until_it_is_answered_and_is_silent_from_then_on(name: str) -> None:
    cue = vocabulary().cues[name]
    assert cue.repeat_s is not None
    assert cue.sound is not None
    lasts_s = 4.0 * cue.repeat_s
    column = play([(lasts_s, name), (60.0, "wait")])
    begins = [group[0] for group in groups(column.heard)]
    assert begins == pytest.approx([i * cue.repeat_s for i in range(4)], abs=TICK_S)
    assert column.heard[-1][1] is None
    assert column.heard[-1][0] <= lasts_s


@pytest.mark.parametrize("name", [n for n in CUE_NAMES if vocabulary().cues[n].asks])
def test_group_has_as_many_beeps_of_its_pitch_as_the_vocabulary_says(name: str) -> None:
    cue = vocabulary().cues[name]
    assert cue.sound is not None
    assert cue.repeat_s is not None
    sound = vocabulary().sounds[cue.sound]
    heard = play([(cue.repeat_s, name)]).heard
    assert sum(pitch_Hz is not None for _, pitch_Hz in heard) == sound.beeps
    assert {pitch_Hz for _, pitch_Hz in heard if pitch_Hz} == {sound.pitch_Hz}


@pytest.mark.parametrize("name", CUE_NAMES)
def test_mute_silences_all_but_urgent_cues(name: str) -> None:
    loud, muted = play([(60.0, name)]), play([(60.0, name)], is_muted=True)
    if name in ("stop", "shut", "fault"):  # what cannot wait; the rest may be muted
        assert muted.heard == loud.heard != []
    else:
        assert muted.heard == []
    assert muted.shown == loud.shown  # the lamps cannot be muted


def test_cue_cut_off_in_a_beep_leaves_no_tone_standing() -> None:
    column = play([(0.1, "stop"), (5.0, "go-on")])
    assert column.heard == [(0.0, 2500.0), (0.1, None)]


def test_same_cue_again_does_not_begin_anew() -> None:
    column = Column()
    player = CuePlayer(vocabulary(), column)
    assert player.show(0.0, "open")
    assert not player.show(1.0, "open")
    assert player.cue == "open"


def test_unknown_cue_is_a_bug_and_changes_nothing() -> None:
    player = CuePlayer(vocabulary(), Column())
    player.show(0.0, "open")
    with pytest.raises(KeyError):
        player.show(1.0, "dance")
    assert player.cue == "open"


def test_dark_is_dark_and_silent_until_the_next_cue() -> None:
    column = Column()
    player = CuePlayer(vocabulary(), column)
    player.show(0.0, "stop")
    player.tick(0.0)
    player.dark()
    player.tick(0.4)
    assert column.shown[-1][1] == frozenset()
    assert column.heard[-1][1] is None
    assert player.cue is None


@pytest.mark.parametrize("name", CUE_NAMES)
@pytest.mark.parametrize("stop_s", [2.0, 2.05, 2.2, 2.45, 2.5])
def test_next_cue_is_seen_within_half_a_second_after_the_fastest(name: str, stop_s: float) -> None:
    column = play([(stop_s, "stop"), (2.0, name)])
    lamp = vocabulary().cues[name].lamp
    since = [t for t, lit in column.shown if t >= stop_s and lamp in lit]
    assert since
    assert since[0] <= stop_s + 0.5


def replied(name: str, at_s: float, *, is_taken: bool, is_muted: bool = False) -> Heard:
    """What sounds in a minute of a cue with a press at a time."""
    column = Column()
    player = CuePlayer(vocabulary(), column, is_muted=is_muted)
    for turn in range(round(60.0 / TICK_S)):
        column.t = round(turn * TICK_S, 3)
        player.show(column.t, name)
        if column.t == at_s:
            player.reply(column.t, is_taken=is_taken)
        player.tick(column.t)
    return column.heard


def test_press_that_was_taken_is_answered_by_two_short_beeps_once() -> None:
    heard = replied("wait", 3.0, is_taken=True)
    assert [pitch_Hz for _, pitch_Hz in heard] == [1600.0, None, 1600.0, None]
    assert [t for t, _ in heard] == pytest.approx([3.0, 3.1, 3.2, 3.3], abs=TICK_S)


def test_press_that_nothing_asked_for_is_answered_by_two_long_beeps() -> None:
    heard = replied("wait", 3.0, is_taken=False)
    assert [t for t, _ in heard] == pytest.approx([3.0, 3.45, 3.6, 4.05], abs=TICK_S)


@pytest.mark.parametrize("name", [n for n in CUE_NAMES if vocabulary().cues[n].asks])
@pytest.mark.parametrize("at_s", [0.1, 2.9])
def test_answer_stands_apart_and_the_cue_sounds_whole_afterwards(name: str, at_s: float) -> None:
    cue = vocabulary().cues[name]
    assert cue.sound is not None
    assert cue.repeat_s is not None
    sound = vocabulary().sounds[cue.sound]
    begun = [(t, pitch_Hz) for t, pitch_Hz in replied(name, at_s, is_taken=True) if pitch_Hz]
    before = [t for t, _ in begun if t < at_s]
    first, second, *later = [t for t, _ in begun if t >= at_s]
    assert first - at_s <= (0.6 if before else TICK_S)
    assert second - first == pytest.approx(0.2, abs=TICK_S)
    assert later[0] - second >= 0.5
    of_one_group = [t for t in later if t < later[0] + sum(sound.rhythm_s)]
    assert len(of_one_group) == sound.beeps
    if len(later) > sound.beeps and later[sound.beeps] < 55.0:
        assert later[sound.beeps] - later[0] == pytest.approx(cue.repeat_s, abs=2 * TICK_S)


def test_muted_bench_answers_no_press() -> None:
    assert replied("wait", 3.0, is_taken=True, is_muted=True) == []


# an answer of the longest kind with its pauses, each begun by the next turn
ANSWER_S = 0.5 + sum(vocabulary().sounds[vocabulary().replies.not_asked].rhythm_s) + 0.5
ANSWERED_S = ANSWER_S + 4 * TICK_S


def pressed(name: str, before: str, presses: Sequence[tuple[int, bool]]) -> Heard:
    """What sounds in a minute that begins 2 s after another cue; presses at turns, and if taken."""
    column = Column()
    player = CuePlayer(vocabulary(), column)
    due = dict(presses)
    for turn in range(-40, round(60.0 / TICK_S)):
        column.t = round(turn * TICK_S, 3)
        player.show(column.t, before if turn < 0 else name)
        player.tick(column.t)
        if turn in due:
            player.reply(column.t, is_taken=due[turn])
    return [one for one in column.heard if one[0] >= 0.0]


@pytest.mark.parametrize("name", ["stop", "shut"])
@given(
    before=st.sampled_from(["wait", "add", "shut", "stop"]),
    presses=st.lists(st.tuples(st.integers(-40, 1199), st.booleans()), max_size=400),
)
def test_no_number_of_presses_silences_what_is_urgent(
    name: str, before: str, presses: list[tuple[int, bool]]
) -> None:
    cue = vocabulary().cues[name]
    assert cue.sound is not None
    assert cue.repeat_s is not None
    sound = vocabulary().sounds[cue.sound]
    heard = pressed(name, before, presses)
    own_s = [t for t, pitch_Hz in heard if pitch_Hz == sound.pitch_Hz] + [60.0]
    assert own_s[0] <= ANSWERED_S + (cue.repeat_s if before == name else 0.0)
    assert all(b - a <= cue.repeat_s + ANSWERED_S for a, b in pairwise(own_s))


@pytest.mark.parametrize("name", ["stop", "shut"])
def test_urgent_cue_sounds_whole_between_two_answers(name: str) -> None:
    cue = vocabulary().cues[name]
    assert cue.sound is not None
    own_Hz = vocabulary().sounds[cue.sound].pitch_Hz
    presses = [(turn, True) for turn in range(0, 1200, 10)]  # twice a second
    begun = [pitch_Hz for _, pitch_Hz in pressed(name, "wait", presses) if pitch_Hz]
    after_first = begun[begun.index(1600.0) :]
    of_two_answers = [1600.0] * 2 + [own_Hz] * 5 + [1600.0] * 2
    assert after_first[:9] == of_two_answers


def test_second_press_at_an_urgent_cue_is_answered_as_well() -> None:
    begun = [p for _, p in pressed("stop", "wait", [(40, True), (46, False)]) if p]
    assert begun.count(1600.0) == 4
