"""Letters of the document: fonts in order of preference, and which letter is taken from which.

Bitstream Vera comes with reportlab and covers western European languages. What it lacks is taken
from DejaVu Sans (its successor; Greek, Cyrillic, the rest of Latin) and Droid Sans Fallback
(Chinese, Japanese, Korean) where the machine has them, as Debian packages ``fonts-dejavu-core``
and ``fonts-droid-fallback``. A letter that none has is written as its number, as [U+1F600]: so
nothing is lost, and the page shows it right. Letters are set one after the other from the left:
scripts that join their letters or run to the left are legible on the page only.
"""

import unicodedata
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from xml.sax.saxutils import escape

from reportlab.pdfbase.pdfmetrics import registerFont
from reportlab.pdfbase.ttfonts import TTFError, TTFont

DEBIAN_FONTS = Path("/usr/share/fonts/truetype")
# name, its bold one, and their files: the first two are found by reportlab itself
_WANTED = (
    (("Vera", "Vera.ttf"), ("VeraBd", "VeraBd.ttf")),
    (
        ("DejaVuSans", str(DEBIAN_FONTS / "dejavu/DejaVuSans.ttf")),
        ("DejaVuSans-Bold", str(DEBIAN_FONTS / "dejavu/DejaVuSans-Bold.ttf")),
    ),
    (
        ("DroidSansFallback", str(DEBIAN_FONTS / "droid/DroidSansFallbackFull.ttf")),
        ("DroidSansFallback", str(DEBIAN_FONTS / "droid/DroidSansFallbackFull.ttf")),
    ),
)
# control, format, surrogate, private use, unassigned (Unicode general categories)
_UNSEEN = ("Cc", "Cf", "Cs", "Co", "Cn")


@dataclass(frozen=True, slots=True)
class Face:
    """A font, its bold one, and the letters that both have."""

    plain: str
    bold: str
    letters: frozenset[int]


class Letters:
    """Writes texts with the first face that has each letter.

    Args:
        faces: In order of preference; at least one.

    Attributes:
        missing: Letters that none had, so far, in order of their numbers.
    """

    def __init__(self, faces: tuple[Face, ...]) -> None:
        self._faces = faces
        self._missing: set[int] = set()

    @property
    def missing(self) -> list[int]:
        """Letters that no face had, so far."""
        return sorted(self._missing)

    @property
    def plain(self) -> str:
        """Name of the first face."""
        return self._faces[0].plain

    @property
    def bold(self) -> str:
        """Name of its bold one."""
        return self._faces[0].bold

    def runs(self, text: str, *, is_bold: bool = False) -> list[tuple[str, str]]:
        """Split a text into font and letters; what none has is written as its number."""
        made: list[tuple[str, str]] = []
        for letter in " ".join(text.split()):
            face = self._face(letter)
            shown = letter if face else f"[U+{ord(letter):04X}]"
            face = face or self._faces[0]
            font = face.bold if is_bold else face.plain
            if made and made[-1][0] == font:
                made[-1] = (font, made[-1][1] + shown)
            else:
                made.append((font, shown))
        return made

    def markup(self, text: str, *, is_bold: bool = False) -> str:
        """Write a text as reportlab's markup, with everything escaped that means something."""
        return "".join(
            f'<font name="{font}">{escape(shown)}</font>'
            for font, shown in self.runs(text, is_bold=is_bold)
        )

    def _face(self, letter: str) -> Face | None:
        # a control or direction sign shows as nothing in fonts that have it, and hides others
        if unicodedata.category(letter) not in _UNSEEN:
            for face in self._faces:
                if ord(letter) in face.letters:
                    return face
        self._missing.add(ord(letter))
        return None


@cache
def faces() -> tuple[Face, ...]:
    """Register the fonts that are there.

    Raises:
        TTFError: Not even those of reportlab: it is not installed whole.
    """
    found: list[Face] = []
    for plain, bold in _WANTED:
        try:
            letters = [_registered(name, file) for name, file in (plain, bold)]
        except TTFError:
            if not found:
                raise
            continue
        found.append(Face(plain[0], bold[0], letters[0] & letters[1]))
    return tuple(found)


def _registered(name: str, file: str) -> frozenset[int]:
    font = TTFont(name, file)
    registerFont(font)
    return frozenset(font.face.charToGlyph)
