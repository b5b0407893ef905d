"""The generator: what is kept agrees with its sources, and what does not is named."""

from collections.abc import Iterator
from pathlib import Path

import pytest

import generate
import products
from generate import STEPS, Step, differences, main, write
from products import (
    HardwareError,
    Product,
    png_product,
    png_source,
    sheet_meaning,
    svg_words,
    text_product,
)

PNG = products.PNG_SIGNATURE + b"\x00\x00\x00\x0dIHDR" + bytes(17) + b"rest"


@pytest.mark.parametrize("name", STEPS)
def test_kept_files_agree_with_their_sources(name: str) -> None:
    assert list(differences(STEPS[name])) == []


@pytest.fixture
def checkout(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(generate, "ROOT", tmp_path)
    return tmp_path


def step_of(*texts: tuple[str, str]) -> Step:
    def make() -> Iterator[Product]:
        for path, text in texts:
            yield text_product(path, text)

    return Step(make, owns=("made",))


def test_written_files_agree(checkout: Path) -> None:
    step = step_of(("made/a.txt", "one\n"), ("made/b.txt", "two\n"))
    assert list(write(step)) == ["made/a.txt", "made/b.txt"]
    assert list(differences(step)) == []
    assert list(write(step)) == []


def test_missing_changed_and_left_over_files_are_named(checkout: Path) -> None:
    step = step_of(("made/a.txt", "one\n"), ("made/b.txt", "two\n"))
    list(write(step))
    (checkout / "made" / "a.txt").unlink()
    (checkout / "made" / "b.txt").write_text("other\n")
    (checkout / "made" / "old.txt").write_text("old\n")
    assert list(differences(step)) == [
        "made/a.txt: missing",
        "made/b.txt: differs from its sources",
        "made/old.txt: no step makes it",
    ]
    assert "made/old.txt (removed)" in list(write(step))
    assert list(differences(step)) == []


def test_command_compares_and_says_so_by_its_status(
    checkout: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(generate, "STEPS", {"one": step_of(("made/a.txt", "one\n"))})
    assert main(["--check"]) == 1
    assert "made/a.txt: missing" in capsys.readouterr().out
    assert main([]) == 0
    assert main(["one", "--check"]) == 0


def test_missing_tool_is_an_error_and_no_agreement(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("PATH", "")
    assert main(["wiring", "--check"]) == 2
    assert "the program dot is not there: `apt-get install graphviz`" in capsys.readouterr().err


def test_unknown_step_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["nonsense"])
    assert "no step nonsense" in capsys.readouterr().err


def test_picture_carries_the_checksum_of_its_source() -> None:
    one = png_product("a.png", PNG, b"one").content
    assert png_source(one) == png_source(png_product("a.png", PNG, b"one").content)
    assert png_source(one) != png_source(png_product("a.png", PNG, b"two").content)
    assert png_source(PNG) is None
    with pytest.raises(HardwareError, match="no PNG"):
        png_source(b"GIF")


def test_sheet_of_our_own_is_compared_by_places_too() -> None:
    sheet = '<svg><path d="M1.00 2.00 L{x} 9.00"/><text x="{t}" y="1">gap</text>{hidden}</svg>'
    kept = sheet_meaning(sheet.format(x="5.00", t="3.00", hidden="").encode())
    assert kept == sheet_meaning(sheet.format(x="5.01", t="3.00", hidden="").encode())
    for x, t in (("6.00", "3.00"), ("5.00", "4.00")):
        assert kept != sheet_meaning(sheet.format(x=x, t=t, hidden="").encode())
    outline = '<path d="M0 0 L1 1 M2 2 L3 3"/>'  # what a hidden line leaves is not compared
    assert kept == sheet_meaning(sheet.format(x="5.00", t="3.00", hidden=outline).encode())


def test_words_of_a_drawing_are_compared_and_not_their_places() -> None:
    text = b'<text x="%d"><tspan>red</tspan><tspan>lamp</tspan></text>'
    drawing = b'<svg xmlns="http://www.w3.org/2000/svg">' + text + b"</svg>"
    assert svg_words(drawing % 1) == svg_words(drawing % 7) == ["red lamp"]
