"""The technician: reads cues out of lamps, acts on them and on nothing else."""

from collections.abc import Iterator
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.signals.vocabulary import CUE_NAMES, vocabulary
from drainscale_sim.technician.perception import Ears, Eyes
from drainscale_sim.world.world import World

TURN_S = 0.05


def _lit(name: str, since_s: float) -> frozenset[str]:
    cue = vocabulary().cues[name]
    return frozenset([cue.lamp]) if vocabulary().is_lit(cue, since_s) else frozenset()


@pytest.mark.parametrize("name", CUE_NAMES)
def test_every_cue_is_read_within_six_seconds(name: str) -> None:
    eyes = Eyes()
    for k in range(120):
        eyes.see(k * TURN_S, _lit(name, k * TURN_S))
    assert eyes.cue(120 * TURN_S) == name


@given(
    first=st.sampled_from(CUE_NAMES),
    then=st.sampled_from(CUE_NAMES),
    changes_s=st.floats(0.0, 8.0),
    late_s=st.lists(st.floats(0.0, 0.06), min_size=50, max_size=50),
)
def test_a_cue_is_read_whatever_was_shown_before_and_however_it_lags(
    first: str, then: str, changes_s: float, late_s: list[float]
) -> None:
    eyes = Eyes()
    for k in range(400):
        t = k * TURN_S
        lit = _lit(first, t) if t < changes_s else _lit(then, t - changes_s)
        eyes.see(t + late_s[k % 50] * 0.5, lit)
    assert eyes.cue(400 * TURN_S) == then


@pytest.mark.parametrize("name", CUE_NAMES)
def test_no_cue_is_taken_for_another_while_it_is_made_out(name: str) -> None:
    eyes, told = Eyes(), set()
    for k in range(200):
        eyes.see(k * TURN_S, _lit(name, k * TURN_S))
        told.add(eyes.cue(k * TURN_S))
    assert told == {None, name}


def test_dark_lamps_say_nothing() -> None:
    eyes = Eyes()
    eyes.see(0.0, frozenset({"blue"}))
    eyes.see(0.3, frozenset())
    assert eyes.cue(10.0) is None


def _beeps(name: str) -> list[tuple[float, float | None]]:
    """Changes of the sounder for one group, s after its begin."""
    sound, t, changes = vocabulary().sounds[name], 0.0, []
    for n, lasts_s in enumerate(sound.rhythm_s):
        changes.append((t, None if n % 2 else sound.pitch_Hz))
        t += lasts_s
    return [*changes, (t, None)]


def _heard(ears: Ears, name: str, at_s: float) -> None:
    for t, pitch_Hz in _beeps(name):
        ears.hear(at_s + t, pitch_Hz)


def test_answers_to_a_press_are_told_apart_by_their_length() -> None:
    ears = Ears()
    assert ears.answer(5.0, 0.0) is None
    _heard(ears, vocabulary().replies.taken, 5.0)
    assert ears.answer(5.3, 4.0) is None  # a third beep may come yet
    assert ears.answer(6.0, 4.0) is True
    assert ears.answer(6.0, 5.5) is None  # that was for an earlier press
    _heard(ears, vocabulary().replies.not_asked, 10.0)
    assert ears.answer(12.0, 9.0) is False


@pytest.mark.parametrize("name", [n for n, cue in vocabulary().cues.items() if cue.sound])
def test_beeps_of_a_cue_are_no_answer(name: str) -> None:
    ears = Ears()
    sound = vocabulary().cues[name].sound
    assert sound is not None
    _heard(ears, sound, 5.0)
    told = {ears.answer(5.0 + 0.05 * k, 4.0) for k in range(100)}
    assert told == {None}


class Kit:
    """Lamps by a script, in place of a kit: shows a cue until it is told another.

    It answers each press by the beeps for "taken", unless it is deaf.
    """

    def __init__(self, world: World) -> None:
        self.world, self.t = world, 0.0
        self.is_deaf = False
        self._was_down = False
        self._due: list[tuple[float, float | None]] = []

    def _answer(self) -> None:
        is_down = self.world.foot_switch_pressed(self.t)
        if self._was_down and not is_down and not self.is_deaf:
            beeps = _beeps(vocabulary().replies.taken)
            self._due += [(self.t + after_s, pitch_Hz) for after_s, pitch_Hz in beeps]
        self._was_down = is_down
        while self._due and self._due[0][0] <= self.t:
            self.world.sounder(self.t, self._due.pop(0)[1])

    def show(self, name: str | None, lasts_s: float) -> Iterator[str]:
        """Show a cue and yield what the technician is doing, turn by turn."""
        began = self.t
        while self.t < began + lasts_s:
            self.t = round(self.t + TURN_S, 3)
            lit = _lit(name, self.t - began) if name else frozenset[str]()
            self.world.lamps(self.t, lit)
            self._answer()
            yield self.world.technician.state

    def until(self, name: str | None, state: str, within_s: float) -> float:
        """Show a cue until he is at something; returns when."""
        for doing in self.show(name, within_s):
            if doing == state:
                return self.t
        raise AssertionError(f"{self.world.technician.state}, not {state}, after {within_s} s")


@pytest.fixture
def kit() -> Kit:
    """A kit whose technician stands ready to drain."""
    made = Kit(World.of("standpipe", 11))
    made.until("wait", "await_drain", 60.0)
    list(made.show("wait", 20.0))  # his hands are free again
    return made


def test_he_opens_no_drain_while_the_kit_says_wait(kit: Kit) -> None:
    assert set(kit.show("wait", 300.0)) == {"await_drain"}
    assert not kit.world.bay.vehicle.drain_open


def test_he_opens_the_drain_some_seconds_after_go_on(kit: Kit) -> None:
    told_s = kit.t
    kit.until("go-on", "watch_drain", 60.0)
    opened_s = kit.world.bay.ledger.stages[0].started_s
    low_s, high_s = kit.world.setup.work.reaction_s
    assert low_s < opened_s - told_s < high_s + 4.0  # he has to make it out first


def test_he_does_not_go_on_while_it_plainly_streams(kit: Kit) -> None:
    kit.until("go-on", "watch_drain", 60.0)
    seen = list(kit.show("go-on", 30.0))
    assert kit.world.bay.vehicle.flow_kg_per_s > 0.0015
    assert set(seen) == {"watch_drain"}
    kit.until("go-on", "pull_pipe", 120.0)
    assert kit.world.bay.vehicle.flow_kg_per_s <= 0.0015


def test_he_shuts_and_empties_at_stop(kit: Kit) -> None:
    kit.until("go-on", "watch_drain", 60.0)
    list(kit.show("wait", 25.0))
    assert kit.world.bay.container.oil_kg > 0.0
    kit.until("stop", "overflow_over", 40.0)
    assert not kit.world.bay.vehicle.drain_open
    assert kit.world.bay.container.oil_kg == 0.0
    kit.until("wait", "watch_drain", 40.0)
    assert kit.world.bay.vehicle.drain_open


def _to_the_level(kit: Kit) -> None:
    kit.until("go-on", "watch_drain", 60.0)
    kit.until("wait", "watch_drain", 1.0)
    list(kit.show("wait", 200.0))
    kit.until("go-on", "pull_pipe", 300.0)
    list(kit.show("wait", 300.0))
    kit.until("go-on", "pumping", 400.0)
    list(kit.show("add", 60.0))
    kit.until("go-on", "start_engine", 200.0)
    kit.until("wait", "await_open", 300.0)


def test_he_opens_the_level_at_open_and_shuts_it_at_shut(kit: Kit) -> None:
    _to_the_level(kit)
    assert set(kit.show("get-ready", 60.0)) == {"await_open"}
    kit.until("open", "watch_level", 30.0)
    assert kit.world.bay.vehicle.drain_open
    told_s = kit.t
    kit.until("shut", "torqued", 40.0)
    shut_s = kit.world.bay.ledger.spills[0].ended_s
    assert shut_s is not None
    assert 0.0 < shut_s - told_s < 20.0
    assert kit.world.bay.vehicle.engine_on  # until the plug is torqued


def test_he_stays_with_the_pump_until_enough_and_presses_at_most_five_times(kit: Kit) -> None:
    _to_the_level(kit)
    pumped_s = kit.world.bay.ledger.jugs[0].last
    first_s = kit.world.bay.ledger.jugs[0].first
    assert pumped_s is not None
    assert first_s is not None
    assert pumped_s - first_s > 55.0
    kit.until("open", "watch_level", 30.0)
    kit.until("shut", "torqued", 40.0)
    kit.until("go-on", "leave", 120.0)
    assert len(kit.world.bay.ledger.presses_s) == 5


def test_he_presses_until_he_is_heard_before_he_does_anything_else(kit: Kit) -> None:
    _to_the_level(kit)
    kit.until("open", "watch_level", 30.0)
    presses_s = kit.world.bay.ledger.presses_s
    before_n = len(presses_s)
    kit.is_deaf = True
    kit.until("shut", "listen", 60.0)
    assert set(kit.show(None, 9.0)) == {"listen"}
    unheard = presses_s[before_n:]
    assert len(unheard) == 4
    assert all(2.0 < later - sooner < 4.0 for sooner, later in pairwise(unheard))
    kit.is_deaf = False
    kit.until("go-on", "decide", 10.0)
    assert len(presses_s[before_n:]) == 5


def test_he_gives_up_on_a_kit_that_never_answers(kit: Kit) -> None:
    _to_the_level(kit)
    kit.until("open", "watch_level", 30.0)
    kit.is_deaf = True
    kit.until("shut", "listen", 60.0)
    kit.until("go-on", "decide", 60.0)


def test_he_starts_no_engine_while_the_lamps_ask_for_fluid(kit: Kit) -> None:
    kit.until("go-on", "watch_drain", 60.0)
    list(kit.show("wait", 200.0))
    kit.until("go-on", "pull_pipe", 300.0)
    list(kit.show("wait", 300.0))
    kit.until("go-on", "pumping", 400.0)
    list(kit.show("add", 10.0))
    list(kit.show("go-on", 4.0))  # too early, as after a mistake of his
    kit.until("go-on", "confirm_start", 60.0)
    kit.until("add", "fetch_jug", 120.0)
    assert not kit.world.bay.vehicle.engine_on
    assert len(kit.world.bay.ledger.presses_s) == 1


def test_he_says_that_the_plug_is_open_where_nothing_runs_out(kit: Kit) -> None:
    _to_the_level(kit)
    before_n = len(kit.world.bay.ledger.presses_s)
    kit.until("open", "watch_level", 30.0)
    assert kit.world.bay.vehicle.flow_kg_per_s == 0.0
    list(kit.show("open", 60.0))
    assert len(kit.world.bay.ledger.presses_s) == before_n + 1


def test_he_adds_fluid_with_the_plug_shut_and_the_engine_running(kit: Kit) -> None:
    _to_the_level(kit)
    kit.until("open", "watch_level", 30.0)
    before_kg = kit.world.bay.ledger.added_kg
    kit.until("add", "pumping", 120.0)
    assert not kit.world.bay.vehicle.is_open
    assert kit.world.bay.vehicle.engine_on
    kit.until("wait", "await_open", 120.0)
    assert 0.2 < kit.world.bay.ledger.added_kg - before_kg < 0.4


def test_a_press_is_seen_as_long_as_the_foot_stays(kit: Kit) -> None:
    kit.until("go-on", "watch_drain", 60.0)
    kit.world.technician.press()
    pressed = [kit.world.foot_switch_pressed(kit.t + 0.01 * k) for k in range(1, 100)]
    low_s, high_s = kit.world.setup.work.press_s
    assert low_s - 0.02 < 0.01 * sum(pressed) < high_s + 0.02
    assert pressed == sorted(pressed, reverse=True)
