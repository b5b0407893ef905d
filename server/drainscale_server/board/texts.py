"""The catalogue of the board's texts: one file, one language so far.

The pseudo-locale is the catalogue with every text in brackets, longer and accented. A page shown
in it gives away each text that is not from the catalogue, and each place that has no room for a
longer language.
"""

import re
from collections.abc import Callable, Mapping
from importlib.resources import files

import msgspec

Catalogue = Mapping[str, Mapping[str, str]]

PSEUDO = "pseudo"
LONGER = 0.35  # how much longer than English a text may well be; common practice, no source
_ACCENTED = str.maketrans("aceinorsuyACEINORSUY", "àçéîñöřšûýÀÇÉÎÑÖŘŠÛÝ")
_BLANK = re.compile(r"(\{[a-z_]+\})")


def catalogue() -> Catalogue:
    """Read the texts, by section and key."""
    text = files("drainscale_server.board").joinpath("texts.toml").read_text(encoding="utf-8")
    return msgspec.toml.decode(text, type=dict[str, dict[str, str]])


def texts_of(language: str) -> Catalogue:
    """Return the texts in a language; English where there is no such."""
    return _mapped(catalogue(), pseudo) if language == PSEUDO else catalogue()


def pseudo(text: str) -> str:
    """Write a text in the pseudo-locale; what is to be filled in stays.

    Example:
        >>> pseudo("in {time}")
        '[îñ {time}~~]'
    """
    parts = _BLANK.split(text)
    accented = "".join(
        part if _BLANK.fullmatch(part) else part.translate(_ACCENTED) for part in parts
    )
    length = sum(len(part) for part in parts if not _BLANK.fullmatch(part))
    more = ("~" * 6 + " ") * length  # in words, as a longer language has them
    return f"[{accented}{more[: max(2, round(LONGER * length))].rstrip()}]"


def _mapped(texts: Catalogue, change: Callable[[str], str]) -> Catalogue:
    return {
        section: {key: change(text) for key, text in entries.items()}
        for section, entries in texts.items()
    }
