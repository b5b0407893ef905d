"""The record in words."""

from collections.abc import Callable
from datetime import timedelta, timezone

import msgspec
import pytest
from tests.server.record.conftest import with_entries, with_result

from drainscale.procedure.cautions import CAUTIONS
from drainscale.procedure.gates import PAN_OR_FILTER
from drainscale.signals.vocabulary import CUE_NAMES
from drainscale_server.record import wording
from drainscale_server.record.blocks import Facts, Points, Section, Sheet, Words
from drainscale_server.record.building import build
from drainscale_server.record.frame import CUE_LETTERS
from drainscale_server.record.model import ServiceRecord
from drainscale_server.record.plots import plots_of
from drainscale_server.record.sheet import net_words, sheet_of
from drainscale_server.record.sources import Sources
from drainscale_server.record.volumes import volume


def section(sheet: Sheet, title: str) -> Section:
    return next(one for one in sheet.sections if one.title == title)


def facts(sheet: Sheet, title: str) -> dict[str, str]:
    blocks = section(sheet, title).blocks
    return dict(row for block in blocks if isinstance(block, Facts) for row in block.rows)


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        ("closed-in-window", "Level set"),
        ("overran", "Level NOT set: the fluid left its window"),
        ("no-spill", "Level NOT set: the plug was open in the window and nothing ran out"),
        ("not-reached", "Level NOT set: the window was never entered"),
        ("not-measured", "Whether the level is set was not measured"),
        ("brand-new", "does not know: brand-new"),
    ],
)
def test_the_verdict_stands_in_plain_words(sources: Sources, verdict: str, words: str) -> None:
    record = build(with_result(sources, lambda result: result["level"].update(verdict=verdict)))
    assert words in sheet_of(record).verdict


@pytest.mark.parametrize(
    ("net_L", "said"),
    [
        (0.0524, "now holds 52 ± 3 mL more fluid than before"),
        (-1.2614, "now holds 1.261 ± 0.003 L less fluid than before"),
        (0.0019, "as much fluid as before the service, within U"),
        (None, "was not measured"),
    ],
)
def test_net_is_told_in_plain_words(net_L: float | None, said: str) -> None:
    assert said in net_words(volume(net_L, 0.0029))


@pytest.mark.parametrize("answer", [one.key for one in PAN_OR_FILTER])
def test_what_was_not_weighed_follows_the_gate_s_answer(sources: Sources, answer: str) -> None:
    sheet = sheet_of(build(with_entries(sources, pan_filter=answer)))
    (points,) = section(sheet, "What was not weighed").blocks
    assert isinstance(points, Points)
    assert points.items[0] == wording.PAN_FILTER[answer]


def test_all_cautions_and_whom_to_follow_are_on_it(record: ServiceRecord) -> None:
    first, points = section(sheet_of(record), "Cautions").blocks
    assert isinstance(first, Words)
    assert "licensed practice" in first.text
    assert isinstance(points, Points)
    assert len(points.items) == len(CAUTIONS) - 1


def test_a_clock_that_was_not_set_is_told(sources: Sources, record: ServiceRecord) -> None:
    place = msgspec.structs.replace(record.place, is_clock_set=False)
    sheet = sheet_of(msgspec.structs.replace(record, place=place))
    assert Words(wording.CLOCK_NOT_SET, "warning") in section(sheet, "Job").blocks
    assert len(section(sheet_of(record), "Job").blocks) == 1


def test_dates_are_told_in_the_shop_s_zone(record: ServiceRecord) -> None:
    sheet = sheet_of(record, timezone(timedelta(hours=-5), "EST"))
    assert facts(sheet, "Job")["Begun"] == "2027-01-15 03:00:00 EST"


def test_what_nobody_told_is_told_as_such(sources: Sources) -> None:
    nobody = dict.fromkeys(sources.entries)
    sheet = sheet_of(build(with_entries(sources, **nobody)))
    told = facts(sheet, "Vehicle and fluid")
    assert {told[key] for key in ("Vehicle", "Plate", "Mileage", "Unit", "Lot")} == {"not told"}
    assert told["Density"].endswith("origin not told")
    assert facts(sheet, "What people said they did")["Sealing washers renewed"] == "not told"


def test_no_washer_renewed_is_another_thing_than_nobody_told(sources: Sources) -> None:
    sheet = sheet_of(build(with_entries(sources, washers_renewed=[])))
    assert facts(sheet, "What people said they did")["Sealing washers renewed"] == "none"


def test_the_plots_letters_are_cues_of_the_kit(record: ServiceRecord) -> None:
    assert set(CUE_LETTERS) <= set(CUE_NAMES)


def test_without_samples_and_forecasts_there_are_no_plots(record: ServiceRecord) -> None:
    bare = msgspec.structs.replace(record.trends, flow=[], temperature=[], pan=[])
    empty = msgspec.structs.replace(record, trends=bare)
    assert plots_of(empty) == []
    (words,) = section(sheet_of(empty), "Course of the job").blocks
    assert words == Words("Nothing was measured to be drawn.")


def test_each_warm_up_has_its_forecasts(gathered: Callable[[str], Sources]) -> None:
    titles = [one.title for one in plots_of(build(gathered("overrun")))]
    assert titles == [
        "Flow over the job",
        "Flow of the last attempt",
        "Fluid temperature",
        "Forecasts as they stood",
        "Forecasts as they stood, warm-up 2",
    ]
