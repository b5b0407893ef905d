import pytest

from drainscale_server.record.fonts import Face, Letters, faces

FIRST = Face("One", "One-Bold", frozenset(map(ord, "ab ")))
SECOND = Face("Two", "Two-Bold", frozenset(map(ord, "abż")))


def test_a_letter_comes_from_the_first_font_that_has_it() -> None:
    letters = Letters((FIRST, SECOND))
    assert letters.runs("abża") == [("One", "ab"), ("Two", "ż"), ("One", "a")]
    assert letters.missing == []


def test_a_letter_that_no_font_has_is_written_as_its_number() -> None:
    letters = Letters((FIRST,))
    assert letters.runs("aż b", is_bold=True) == [("One-Bold", "a[U+017C] b")]
    assert letters.missing == [0x17C]


@pytest.mark.parametrize("sign", ["\u202e", "\u200b", "\x07", "\ue000"])
def test_a_sign_that_shows_as_nothing_is_written_as_its_number(sign: str) -> None:
    (run,) = Letters(faces()).runs(f"a{sign}b")
    assert run[1] == f"a[U+{ord(sign):04X}]b"


def test_what_means_something_in_markup_is_escaped() -> None:
    letters = Letters((Face("One", "One", frozenset(range(0x20, 0x7F))),))
    assert letters.markup("<b>&") == '<font name="One">&lt;b&gt;&amp;</font>'


@pytest.mark.parametrize("text", ["Renée Müßigbrodt", "½ ≤ 3 °C ± 1 µm²", "Ørsted Åse Çelik"])
def test_western_europe_is_covered_by_the_font_that_comes_along(text: str) -> None:
    letters = Letters(faces()[:1])
    letters.runs(text)
    assert letters.missing == []
