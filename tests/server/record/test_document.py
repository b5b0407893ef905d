"""The PDF, read back by pypdf: an independent reader of the format."""

import re
from collections.abc import Callable
from dataclasses import replace
from decimal import ROUND_HALF_EVEN, ROUND_UP, Decimal
from io import BytesIO
from pathlib import Path
from typing import Any

import msgspec
import pytest
from pypdf import PdfReader
from tests.server.record.conftest import (
    arrivals,
    leaf_of,
    sources_of,
    with_entries,
    with_result,
)

from drainscale_server.record.building import build
from drainscale_server.record.document import document
from drainscale_server.record.fonts import Face, faces
from drainscale_server.record.model import ServiceRecord
from drainscale_server.record.sheet import sheet_of
from drainscale_server.record.sources import Sources

LITRES_PER_QUART = Decimal("0.946352946")  # NIST Handbook 44, appendix C: exact
# US letter: ANSI/ASME Y14.1, 8.5 by 11 inches; A4: ISO 216, 210 by 297 mm; in points of 1/72 inch
PAPERS_PT = {"letter": (612.0, 792.0), "a4": (210 / 25.4 * 72, 297 / 25.4 * 72)}


def only_vera() -> tuple[Face, ...]:
    return faces()[:1]


def pages_of(record: ServiceRecord, paper: str = "a4") -> list[str]:
    made = document(sheet_of(record), paper, only_vera())
    reader = PdfReader(BytesIO(made), strict=True)
    return [" ".join(page.extract_text().split()) for page in reader.pages]


def text_of(record: ServiceRecord) -> str:
    return " ".join(pages_of(record))


def told(value: float, U: float, unit: str, factor: Decimal = Decimal(1)) -> str:
    """Round by decimals, apart from the code that is tested."""
    mL = Decimal("0.001")
    shown = (Decimal(str(value)) / factor).quantize(mL, ROUND_HALF_EVEN)
    U_shown = (Decimal(str(U)) / factor).quantize(mL, ROUND_UP)
    return f"{shown} ± {U_shown} {unit}"


@pytest.fixture(scope="module")
def text_of_job(gathered: Callable[[str], Sources]) -> Callable[[str], str]:
    """Read the documents of the stored jobs, each made once."""
    made: dict[str, str] = {}

    def of(name: str) -> str:
        if name not in made:
            made[name] = text_of(build(gathered(name)))
        return made[name]

    return of


@pytest.mark.parametrize(
    ("part", "key"),
    [("drained", "volume_L"), ("refill", "added_volume_20C_L"), ("net", "volume_20C_L")],
)
@pytest.mark.parametrize("name", ["standpipe", "faults", "overrun"])
def test_its_volumes_are_those_of_the_result(
    gathered: Callable[[str], Sources],
    text_of_job: Callable[[str], str],
    name: str,
    part: str,
    key: str,
) -> None:
    sources = gathered(name)
    assert sources.result is not None
    value, U = sources.result[part][key], sources.result[part]["U_volume_L"]
    text = text_of_job(name)
    assert told(value, U, "L") in text
    assert told(value, U, "US qt", LITRES_PER_QUART) in text


def test_its_temperatures_and_flow_are_those_of_the_result(
    sources: Sources, text_of_job: Callable[[str], str]
) -> None:
    assert sources.result is not None
    level = sources.result["level"]
    C, U = level["temperature_at_close_C"], level["U_temperature_C"]
    text = text_of_job("standpipe")
    assert f"{C:.1f} ± {Decimal(str(U)).quantize(Decimal('0.1'), ROUND_UP)} °C" in text
    assert f"Flow at the cue to shut {level['flow_at_close_mL_per_min']:.0f} mL/min" in text


def test_what_was_not_measured_is_told_so(sources: Sources) -> None:
    def nothing(result: dict[str, Any]) -> None:
        for part in ("drained", "refill", "spill", "net"):
            keys = {key: None for key, one in result[part].items() if not isinstance(one, list)}
            result[part] |= keys

    text = text_of(build(with_result(sources, nothing)))
    assert re.search(r"Drained not measured not measured", text)
    assert re.search(r"Net: added − spilled − drained not measured not measured", text)
    assert "0.000 L" not in text


def test_a_typed_in_record_is_told_in_full(
    record: ServiceRecord, text_of_job: Callable[[str], str]
) -> None:
    text = text_of_job("standpipe")
    for words in (
        "Ridgeway Gearbox Works",
        "128 400 km (79 784 miles)",
        "standpipe: 3.5 N·m (2.6 lbf·ft)",
        "857.4 ± 2.8 kg/m³ at 15 °C, from the product sheet",
        "2026-11-02",
        "Not for trade",
        "drainscale 0.1.0",
        record.seal.messages_sha256,
    ):
        assert words in text


def test_the_error_statement_is_the_design_budget(text_of_job: Callable[[str], str]) -> None:
    # README, "How well it can measure": kit with a C3 cell, by `drainscale budget --kits`
    assert "14 mL at 2 L, 25 mL at 4 L and 36 mL at 6 L" in text_of_job("standpipe")


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_page_has_its_number_and_the_size_of_the_paper(
    record: ServiceRecord, paper: str
) -> None:
    made = document(sheet_of(record), paper, only_vera())
    reader = PdfReader(BytesIO(made))
    assert len(reader.pages) >= 4
    for n, page in enumerate(reader.pages, start=1):
        assert f"page {n} of {len(reader.pages)}" in page.extract_text()
        assert (page.mediabox.width, page.mediabox.height) == pytest.approx(
            PAPERS_PT[paper], abs=0.1
        )


def test_the_same_record_gives_the_same_bytes(sources: Sources) -> None:
    first = document(sheet_of(build(sources)))
    assert document(sheet_of(build(sources))) == first
    assert document(sheet_of(build(with_entries(sources, plate="RW 18 TRN")))) != first


def test_the_plots_are_vectors(record: ServiceRecord) -> None:
    reader = PdfReader(BytesIO(document(sheet_of(record))))
    assert not [image for page in reader.pages for image in page.images]
    drawn = b"".join(page.get_contents().get_data() for page in reader.pages)  # type: ignore[union-attr]
    assert drawn.count(b" l\n") + drawn.count(b" l ") > 1000


def test_its_fonts_are_in_it(record: ServiceRecord) -> None:
    reader = PdfReader(BytesIO(document(sheet_of(record))))
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            told_of = font.get_object()
            if told_of["/Subtype"] == "/TrueType":
                assert "/FontFile2" in told_of["/FontDescriptor"]


HOSTILE = "<b>&amp;</b> <script>alert(1)</script> <img src=x> <font color=red> %s {} ]]> \x07"


def test_hostile_texts_are_shown_as_they_are(sources: Sources) -> None:
    text = text_of(build(with_entries(sources, vehicle=HOSTILE, shop=HOSTILE, remarks=HOSTILE)))
    squeezed = text.replace(" ", "")
    shown = HOSTILE.replace("\x07", "[U+0007]").replace(" ", "")
    assert squeezed.count(shown) >= 3


def test_a_very_long_name_is_broken_and_stays_on_the_page(sources: Sources) -> None:
    long = "Überlang" * 25
    pages = pages_of(build(with_entries(sources, vehicle=long, shop=long, remarks=long * 10)))
    assert long in "".join(pages).replace(" ", "")
    assert all("page" in page for page in pages)


def test_letters_that_no_font_has_are_shown_by_their_numbers(sources: Sources) -> None:
    text = text_of(build(with_entries(sources, technician="王 Ж é", remarks="\u202eabc")))
    assert "[U+738B] [U+0416] é" in text
    assert "[U+202E]abc" in text
    assert "shown by their Unicode numbers: U+0416, U+202E, U+738B" in text


@pytest.mark.skipif(len(faces()) < 2, reason="DejaVu Sans is not on this machine")
def test_other_alphabets_are_written_where_the_machine_has_their_letters(
    sources: Sources,
) -> None:
    record = build(with_entries(sources, technician="Łukasz Wiśniewski, Ирина, Ελένη"))
    reader = PdfReader(BytesIO(document(sheet_of(record))))
    assert "Łukasz Wiśniewski, Ирина, Ελένη" in " ".join(
        " ".join(page.extract_text().split()) for page in reader.pages
    )


def test_a_job_that_is_still_open_says_so_at_the_top(tmp_path: Path) -> None:
    begun = [one for one in arrivals("standpipe") if leaf_of(one) not in ("result", "job-closed")]
    first = pages_of(build(sources_of(begun, tmp_path)))[0]
    assert first.index("STILL OPEN") < first.index("What came out")
    assert "There is no result: nothing here says whether the level is set." in first
    assert "Attempts are not known before there is a result." in first


def test_an_aborted_job_says_so_at_the_top(sources: Sources) -> None:
    job = msgspec.structs.replace(sources.job, state="aborted")
    record = build(replace(sources, job=job))
    assert "ABORTED: the service was given up before its end" in pages_of(record)[0]


def test_faults_and_gaps_are_listed(text_of_job: Callable[[str], str]) -> None:
    text = text_of_job("faults")
    assert "Stretches without a value" in text
    assert "pan sensor" in text
    assert "No sensor failed" not in text
    assert "No sensor failed" in text_of_job("standpipe")


def test_each_attempt_has_its_line(text_of_job: Callable[[str], str]) -> None:
    text = text_of_job("overrun")
    assert "would not become thin in time" in text
    assert "Flow of the last attempt" in text
    assert "warm-up 2" in text
