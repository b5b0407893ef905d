"""Contrast in both themes, computed from the table of colours as WCAG 2 has it."""

import re
from pathlib import Path

import pytest

import drainscale_server.board as board

SHEET = Path(board.__file__).parent / "static" / "css" / "colours.css"
PRIMARY = [  # what is read from afar
    ("ink", "panel"), ("ink", "ground"), ("on-red", "band-red"), ("on-amber", "band-amber"),
    ("on-blue", "band-blue"), ("on-white", "band-white"), ("on-calm", "band-calm"),
    ("on-lost", "band-lost"), ("on-key-main", "key-main"),
]  # fmt: skip
REST = [
    ("ink-2", "panel"), ("ink-2", "ground"), ("on-key", "key"), ("on-key-stop", "key-stop"),
    ("ink", "window"),
]  # fmt: skip
DRAWN = [  # WCAG 2, 1.4.11: 3 to 1 for what is not text
    ("line", "panel"), ("line", "ground"), ("asked", "panel"), ("good", "panel"), ("oil", "ground"),
    ("focus", "ground"), ("mark", "window"), ("mark", "panel"), ("wrong", "panel"),
    ("lamp-red", "plate"), ("lamp-amber", "plate"), ("lamp-blue", "plate"), ("lamp-white", "plate"),
    ("unlit", "plate"),
]  # fmt: skip


def luminance(colour: str) -> float:
    """Relative luminance. Source: WCAG 2.2, definition of relative luminance."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [x / 12.92 if x <= 0.04045 else ((x + 0.055) / 1.055) ** 2.4 for x in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio. Source: WCAG 2.2, definition of contrast ratio."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def colours(theme: str) -> dict[str, str]:
    """Read the colours of a theme, those of both first."""
    blocks = re.findall(r"^:root(\[[^\]]*\])? \{(.*?)^\}", SHEET.read_text("utf-8"), re.M | re.S)
    found: dict[str, str] = {}
    for name, body in blocks:
        if name in ("", f'[data-theme="{theme}"]'):
            found |= dict(re.findall(r"--([a-z0-9-]+): (#[0-9a-f]{6});", body))
    return found


def test_contrast_is_computed_as_published() -> None:
    # commonly published pairs, from memory: #767676 on white is the lightest grey that passes 4.5
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.5422, abs=5e-4)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.4781, abs=5e-4)


@pytest.mark.parametrize("theme", ["dark", "light"])
@pytest.mark.parametrize(("pairs", "least"), [(PRIMARY, 7.0), (REST, 4.5), (DRAWN, 3.0)])
def test_contrast_is_enough(theme: str, pairs: list[tuple[str, str]], least: float) -> None:
    table = colours(theme)
    low = {pair: contrast(table[pair[0]], table[pair[1]]) for pair in pairs}
    assert {pair: ratio for pair, ratio in low.items() if ratio < least} == {}


def test_both_themes_have_the_same_colours() -> None:
    assert colours("dark").keys() == colours("light").keys()
