"""The parts of the demo, driven by a scripted core that tells what a test wants told."""

import io
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

from drainscale.errors import InputError
from drainscale.procedure.cautions import CAUTIONS
from drainscale.quantities.job import (
    Container,
    FluidSheet,
    Job,
    PanSensor,
    ProcedureLimits,
    ScaleSettings,
)
from drainscale.quantities.samples import STEP_NAMES, PanReading, Sample
from drainscale.signals.vocabulary import CUE_NAMES, vocabulary
from drainscale_sim.demo.guide import cautions_now, guide
from drainscale_sim.demo.lines import LineTeller
from drainscale_sim.demo.pace import ABOUT_S, LINGER_S, LINGER_SHARE, Pace
from drainscale_sim.demo.playback import Playback
from drainscale_sim.demo.screen import screen
from drainscale_sim.demo.show import fits, show_lines, show_screen
from drainscale_sim.demo.snapshot import Snapshot, Told
from drainscale_sim.demo.sources import find_source
from drainscale_sim.demo.trend import chart
from drainscale_sim.demo.words import EVENTS, bar, celsius, clock, event_words, litres, quarts
from drainscale_sim.score.contract import EVENTS as CONTRACT_EVENTS

JOB = Job(
    procedure=ProcedureLimits("standpipe", (35.0, 45.0), 0.6, 60.0, 3.0),
    fluid=FluidSheet(846.0, 15.0, 1.5),
    scale=ScaleSettings(20.0, 10.0, (0.0, 10.0), (0.0, 4.0e6), 0.0005, 0.0004),
    pan_sensor=PanSensor(0.9, 0.03, 25.0, 6.0, 0.7),
    container=Container(8.0),
)
WARMING = Snapshot(
    t=600.0,
    step="warm",
    cue="wait",
    drained_L=1.936,
    U_drained_L=0.012,
    added_L=2.55,
    U_added_L=0.013,
    target_L=2.536,
    spilled_mL=0.0,
    flow_mL_per_min=0.0,
    fluid_C=31.5,
    U_fluid_K=1.2,
    pan_C=28.25,
    opens_s=690.0,
    opens_90=(640.0, 760.0),
    closes_s=990.0,
)


class ScriptedCore:
    """Shows one snapshot, and tells one event at each sample whose second it knows."""

    def __init__(self, shown: Snapshot, told: Sequence[Told] = ()) -> None:
        self.shown = shown
        self._told = list(told)

    def feed(self, sample: Sample) -> Sequence[Told]:
        return [event for event in self._told if event.t == sample.t]

    def snapshot(self, t: float) -> Snapshot:
        return replace(self.shown, t=t)


@pytest.fixture
def played() -> Callable[..., Playback]:
    """A playback of 900 s, one sample a second, run to a time."""

    def play(shown: Snapshot, told: Sequence[Told] = (), until_s: float = 600.0) -> Playback:
        samples = [PanReading(float(t), 30.0) for t in range(901)]
        playback = Playback(ScriptedCore(shown, told), samples)
        playback.advance(until_s)
        return playback

    return play


def drawn(
    playback: Playback, columns: int = 80, rows: int = 24, cue_for_s: float = 0.0
) -> list[str]:
    console = Console(file=io.StringIO(), width=columns, height=rows, color_system=None)
    console.print(screen(playback, JOB, "a service", cue_for_s, (columns, rows)))
    file = console.file
    assert isinstance(file, io.StringIO)
    return file.getvalue().rstrip("\n").splitlines()


def unwrapped(lines: Sequence[str]) -> str:
    """The lower right panel as one running text."""
    first = next(number for number, line in enumerate(lines) if "take care" in line)
    inner = [line.split("││")[-1].strip("│ ") for line in lines[first + 1 : -2]]
    return " ".join(" ".join(inner).replace("⚠", "").split())


@pytest.mark.parametrize("fluid_C", [31.5, 61.0, None])
@pytest.mark.parametrize("step", STEP_NAMES)
def test_every_caution_of_a_step_fits_the_smallest_screen(
    played: Callable[..., Playback], step: str, fluid_C: float | None
) -> None:
    playback = played(replace(WARMING, step=step, fluid_C=fluid_C))
    lines = drawn(playback)
    assert len(lines) == 24
    assert {len(line) for line in lines} <= {80}
    text = unwrapped(lines)
    title = next(number for number, line in enumerate(lines) if "take care" in line)
    assert guide().now[step] in lines[title + 1]
    assert all(guide().short[caution.id] in text for caution in cautions_now(playback.now))


@pytest.mark.parametrize("step", STEP_NAMES)
def test_every_caution_fits_a_large_screen_in_full(
    played: Callable[..., Playback], step: str
) -> None:
    playback = played(replace(WARMING, step=step, fluid_C=61.0))
    text = unwrapped(drawn(playback, 120, 40))
    assert all(caution.text in text for caution in cautions_now(playback.now))


def test_every_caution_of_the_kit_has_short_words_or_stands_in_the_footer() -> None:
    assert {caution.id for caution in CAUTIONS} - {"defer"} == set(guide().short)
    assert max(map(len, guide().short.values())) <= 18
    assert "service information and local codes decide" in guide().footer


def test_where_work_can_hurt_there_is_a_caution() -> None:
    def ids(step: str, fluid_C: float | None = 30.0) -> set[str]:
        now = replace(WARMING, step=step, fluid_C=fluid_C)
        return {caution.id for caution in cautions_now(now)}

    assert {"lift", "eyes"} <= ids("prepare")
    assert "burn" not in ids("drain")
    assert "burn" in ids("drain", 59.0)  # 59 ± 1.2 °C may be 60 °C
    assert "burn" in ids("drain", None)
    assert {"nobody-under", "exhaust", "moving-parts"} <= ids("circulate")
    assert {"exhaust", "hot-parts", "eyes"} <= ids("level")
    assert "waste" in ids("done")
    assert set(guide().now) == set(STEP_NAMES)


@pytest.mark.parametrize("cue", CUE_NAMES)
def test_a_cue_is_told_by_place_word_symbol_and_pattern(
    played: Callable[..., Playback], cue: str
) -> None:
    lines = drawn(played(replace(WARMING, cue=cue)))
    meant = vocabulary().cues[cue]
    places = [line[22] for line in lines[2:6]]
    names = [lamp.name for lamp in vocabulary().lamps]
    assert places[names.index(meant.lamp)] == "●"
    assert places.count("○") == 3
    text = "\n".join(lines)
    assert f"{meant.symbol}  {meant.word}" in text
    assert meant.text in text
    assert f"{meant.lamp:<6}{meant.pattern}" in text
    last_words = meant.means.split()[-1]
    assert last_words in "\n".join(lines[4:6])


def test_the_reason_of_a_cue_goes_before_its_general_meaning(
    played: Callable[..., Playback],
) -> None:
    text = "\n".join(drawn(played(replace(WARMING, why="The fluid warms."))))
    assert "The fluid warms." in text
    assert vocabulary().cues["wait"].means not in text


def test_only_the_lamp_flashes(played: Callable[..., Playback]) -> None:
    playback = played(replace(WARMING, cue="open"))
    lit, dark = drawn(playback, cue_for_s=0.1), drawn(playback, cue_for_s=0.5)
    assert [a for a, b in zip(lit, dark, strict=True) if a != b] == [lit[4]]
    assert lit[4].replace("●", "○") == dark[4]


def test_the_screen_shows_litres_quarts_and_uncertainty(played: Callable[..., Playback]) -> None:
    text = "\n".join(drawn(played(WARMING)))
    assert "1.936 L ± 0.012 at 20 °C   2.05 US qt" in text
    assert "2.550 L ± 0.013 of 2.536 L" in text
    assert "31.5 °C ± 1.2 estimated fluid temperature" in text
    assert "28.2 °C reads the clamp" in text
    assert "35 to 45 °C opens in 1:30 (90 %: 0:40 to 2:40)" in text


def test_what_is_unknown_is_a_dash(played: Callable[..., Playback]) -> None:
    text = "\n".join(drawn(played(Snapshot(t=600.0, step="prepare", cue="wait"))))
    assert "drained  – L at 20 °C   – US qt" in text
    assert "– °C estimated fluid temperature" in text
    assert "– mL/min" in text


def test_during_the_spill_its_end_is_shown(played: Callable[..., Playback]) -> None:
    spilling = replace(
        WARMING, step="level", flow_mL_per_min=210.0, spilled_mL=200.4, opens_s=500.0,
        finishes_s=645.0, p_finish_in_window=0.93,
    )  # fmt: skip
    text = "\n".join(drawn(played(spilling)))
    assert "spilled 200 mL" in text
    assert "35 to 45 °C closes in 6:30, thin in 0:45 (93 %)" in text


def test_while_it_drains_what_is_still_to_come_is_shown(played: Callable[..., Playback]) -> None:
    draining = replace(WARMING, step="drain", flow_mL_per_min=12.0, still_to_come_mL=34.6)
    text = "\n".join(drawn(played(draining)))
    assert "12 mL/min     still to come 35 mL" in text
    assert "to refill so far 2.536 L" in text


def test_a_pan_in_fault_is_shown_as_no_value(played: Callable[..., Playback]) -> None:
    text = "\n".join(drawn(played(replace(WARMING, faults=("pan",)))))
    assert "– °C the clamp gives no value" in text
    assert "28.2 °C" not in text


def test_steps_are_done_now_or_to_come(played: Callable[..., Playback]) -> None:
    text = "\n".join(drawn(played(WARMING)))
    assert "✓ refill" in text
    assert "▶ warm       now" in text
    assert "· level" in text


def test_a_check_plug_unit_has_no_standpipe_step(played: Callable[..., Playback]) -> None:
    playback = played(WARMING)
    job = replace(JOB, procedure=replace(JOB.procedure, level_method="check-plug"))
    console = Console(file=io.StringIO(), width=80, height=24, color_system=None)
    with console.capture() as capture:
        console.print(screen(playback, job, "a service", 0.0, (80, 24)))
    assert "drain-pan" not in capture.get()
    assert "drain-pan" in "\n".join(drawn(playback))


def test_events_stand_newest_last_and_none_is_cut_short(played: Callable[..., Playback]) -> None:
    told = [Told(10.0 + n, event, "warm") for n, event in enumerate(sorted(EVENTS))]
    for event in told:
        playback = played(WARMING, [event])
        assert EVENTS[event.event] in "\n".join(drawn(playback))
    text = "\n".join(drawn(played(WARMING, told)))
    assert text.index(clock(told[-2].t)) < text.index(clock(told[-1].t))
    assert clock(told[0].t) not in text


def test_a_large_screen_also_draws_the_temperature(played: Callable[..., Playback]) -> None:
    text = "\n".join(drawn(played(WARMING), 120, 40))
    assert "estimated fluid temperature, window shaded" in text
    assert "●" in text
    for event, words in EVENTS.items():
        text = "\n".join(drawn(played(WARMING, [Told(10.0, event, "drain-pan")]), 120, 40))
        assert f"0:10 drain-pan {words} " in text


def test_the_chart_puts_hot_above_cold_and_shades_the_window() -> None:
    rows = chart([(45.0, 25.0), (50.0, 40.0)], 100.0, (35.0, 45.0), 27, 11).plain.splitlines()
    assert len(rows) == 11
    assert {len(row) for row in rows} == {27}
    dots = {row.index("●"): number for number, row in enumerate(rows) if "●" in row}
    assert set(dots) == {16, 17}  # at 45 % and 50 % of 20 columns, after the axis
    assert dots[17] < dots[16]
    assert all("░" in row for row in rows[dots[17] - 1 : dots[17] + 1])
    assert "░" not in rows[dots[16]]


def test_the_chart_carries_a_value_over_columns_without_one() -> None:
    rows = chart([(0.0, 25.0), (50.0, 40.0)], 100.0, (35.0, 45.0), 27, 11).plain.splitlines()
    cold = next(row for row in rows if row.count("●") > 1)
    assert [column for column, dot in enumerate(cold) if dot == "●"] == list(range(7, 17))


def test_every_event_has_words_that_fit_the_narrow_column() -> None:
    assert set(EVENTS) == CONTRACT_EVENTS
    assert max(map(len, EVENTS.values())) <= 25
    assert event_words("sensor-fault", "pan") == "pan clamp gives no value"


# Source: NIST SP 811, appendix B: 1 US liquid quart is 0.946352946 L exactly.
def test_quarts_are_litres_over_the_exact_factor() -> None:
    assert quarts(1.892705892) == "2.00 US qt"


def test_numbers_are_written_with_their_uncertainty_and_unit() -> None:
    assert litres(1.2345, 0.0123) == "1.234 L ± 0.012"
    assert celsius(35.04, 1.25) == "35.0 °C ± 1.2"
    assert celsius(None) == "– °C"
    assert [clock(s) for s in (0.0, 59.6, 3600.0, -61.0, None)] == [
        "0:00",
        "1:00",
        "60:00",
        "-1:01",
        "–",
    ]
    assert bar(0.5, 4) == "██░░"
    assert bar(1.4, 4) == "████"


def test_the_default_pace_takes_about_a_minute() -> None:
    pace = Pace(2600.0, None)
    frames, t = 0, 0.0
    cues = ["wait", "add", "wait", "get-ready", "open", "shut", "go-on"]
    while t < 2600.0:
        t += pace.step(0.1, cues[min(int(t / 2600.0 * 7), 6)])
        frames += 1
    assert ABOUT_S < frames * 0.1 < 75.0


def test_the_pace_lingers_where_a_cue_asks_for_an_action() -> None:
    pace = Pace(ABOUT_S * 10.0, None)
    assert pace.step(1.0, "wait") == pytest.approx(10.0)
    assert pace.step(1.0, "open") == pytest.approx(10.0 * LINGER_SHARE)
    assert pace.step(LINGER_S, "open") == pytest.approx(
        10.0 * (1.0 + LINGER_SHARE * (LINGER_S - 1.0))
    )
    assert pace.step(1.0, "open") == pytest.approx(10.0)
    assert pace.step(1.0, "wait") == pytest.approx(10.0)
    assert pace.step(1.0, "open") == pytest.approx(10.0)  # seen before


def test_a_chosen_speed_is_kept_throughout() -> None:
    pace = Pace(2600.0, 20.0)
    assert pace.step(0.5, "shut") == 10.0


def test_playback_feeds_each_sample_once_and_in_order(played: Callable[..., Playback]) -> None:
    told = [Told(float(t), "disturbed", "warm") for t in (100, 600, 601)]
    playback = played(WARMING, told, until_s=600.0)
    assert [event.t for event in playback.told] == [100.0, 600.0]
    assert [event.t for event in playback.advance(10_000.0)] == [601.0]
    assert playback.is_over
    assert playback.t == 900.0


def test_a_terminal_sees_the_screen_until_the_recording_is_over() -> None:
    playback = Playback(ScriptedCore(WARMING), [PanReading(float(t), 30.0) for t in range(121)])
    file = io.StringIO()
    console = Console(file=file, force_terminal=True, width=80, height=24, color_system=None)
    assert fits(console)
    show_screen(console, playback, JOB, "a service", None)
    assert playback.is_over
    assert "take care" in file.getvalue()
    assert "2:00 of 2:00" in file.getvalue()


def test_a_terminal_too_small_for_the_screen_gets_lines() -> None:
    assert not fits(Console(file=io.StringIO(), force_terminal=True, width=79, height=24))
    assert not fits(Console(file=io.StringIO(), force_terminal=True, width=80, height=23))
    assert not fits(Console(file=io.StringIO(), force_terminal=False, width=80, height=24))


def test_lines_tell_step_cue_caution_event_and_a_line_a_minute() -> None:
    samples = [PanReading(float(t), 30.0) for t in range(121)]
    playback = Playback(ScriptedCore(WARMING, [Told(5.0, "placed", "warm")]), samples)
    said: list[str] = []
    waits: list[float] = []
    show_lines(said.append, playback, 2.0, waits.append)
    assert said[:2] == [
        "  0:01  STEP warm: Engine idles. Wait for the window.",
        f"        caution: {CAUTIONS[0].text}",
    ]
    assert "  0:01  CUE WAIT (white lamp, slow): Nothing to do now." in said
    assert "  0:05  warm       container on the platform" in said
    minutes = [line for line in said if "drained" in line]
    assert [line.split()[0] for line in minutes] == ["1:00", "2:00"]
    assert "drained 1.936 L ± 0.012 | added 2.550 L of 2.536" in minutes[0]
    assert sum(waits) == pytest.approx(60.0)


def test_a_line_is_not_told_twice() -> None:
    teller = LineTeller()
    playback = Playback(ScriptedCore(WARMING), [PanReading(0.0, 30.0)])
    assert len(list(teller.lines(playback, []))) == 2 + len(cautions_now(playback.now))
    assert list(teller.lines(playback, [])) == []


def test_a_recording_is_found_by_name_with_its_job_and_truth() -> None:
    source = find_source("no-spill", None)
    assert source.title == "no-spill"
    assert source.job.name == "no-spill.job.toml"
    assert source.truth is not None
    assert source.truth.outcome == "no-spill"


def test_a_recording_elsewhere_needs_no_truth(tmp_path: Path) -> None:
    path = tmp_path / "mine.sensml"
    path.write_text("[]")
    source = find_source(str(path), None)
    assert (source.job, source.truth) == (tmp_path / "mine.job.toml", None)


def test_an_unknown_recording_is_refused_with_the_known_names() -> None:
    with pytest.raises(InputError, match=r"absent: no such recording; known by name: .*no-spill"):
        find_source("absent", None)
