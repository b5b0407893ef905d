# SPDX-License-Identifier: Apache-2.0
"""What the generator makes: a file, and what of it has to agree with the one that is kept."""

import csv
import io
import re
import shutil
import struct
import zlib
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

ROOT = Path(__file__).parents[2]
HARDWARE = ROOT / "hardware"
PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"


class HardwareError(Exception):
    """The dossier cannot be made, or contradicts itself; says why in a line a file."""


@dataclass(frozen=True)
class Product:
    """One generated file.

    Attributes:
        path: Where it lies, from the top of the checkout.
        content: Its bytes.
        meaning: What of it is compared with the kept file. Drawing tools place things a little
            differently from version to version, so a drawing is compared by what it says.
    """

    path: str
    content: bytes
    meaning: Callable[[bytes], object]


def text_product(path: str, text: str) -> Product:
    """Return a text file, compared line by line."""
    return Product(path, text.encode(), lambda raw: raw.decode().splitlines())


def table_product(path: str, text: str, delimiter: str = ",") -> Product:
    """Return a table, compared cell by cell."""

    def rows(raw: bytes) -> object:
        return list(csv.reader(io.StringIO(raw.decode()), delimiter=delimiter))

    return Product(path, text.encode(), rows)


def svg_product(path: str, svg: str) -> Product:
    """Return a drawing, compared by the words on it, whatever their order and place."""
    return Product(path, svg.encode(), svg_words)


def sheet_product(path: str, svg: str) -> Product:
    """Return a drawing of our own, compared by all that does not hang on what hides what.

    Places are rounded to a twentieth of a millimetre; outlines of solids, whose hidden lines a
    library's next version may cut elsewhere, are the one thing left out.
    """
    return Product(path, svg.encode(), sheet_meaning)


def sheet_meaning(raw: bytes) -> list[str]:
    """Return every text, line, circle and shape of a sheet with its place."""
    drawn = []
    for part in ElementTree.fromstring(raw).iter():
        if part.get("d", "").count("M") > 1:
            continue
        told = " ".join(f"{key}={value}" for key, value in sorted(part.attrib.items()))
        drawn.append(f"{part.tag} {_NUMBER.sub(_rounded, told)} {part.text or ''}".strip())
    return drawn


_NUMBER = re.compile(r"-?\d+\.\d+")


def _rounded(number: re.Match[str]) -> str:
    return f"{round(20.0 * float(number[0])) / 20.0 + 0.0:.2f}"


def svg_words(raw: bytes) -> list[str]:
    """Return what is written on a drawing, sorted."""
    top = ElementTree.fromstring(raw)
    texts = (part for part in top.iter() if part.tag.endswith("}text"))
    words = (" ".join(" ".join(part.itertext()).split()) for part in texts)
    return sorted(filter(None, words))


def png_product(path: str, png: bytes, source: bytes) -> Product:
    """Return a picture, compared by the source that it was drawn from.

    The source's checksum goes into the picture as a text chunk; pixels differ from machine to
    machine.
    """
    chunk = b"tEXtSource\x00%08x" % zlib.crc32(source)
    body = struct.pack(">I", len(chunk) - 4) + chunk + struct.pack(">I", zlib.crc32(chunk))
    after_header = len(PNG_SIGNATURE) + 25  # the header chunk is always 25 bytes long
    return Product(path, png[:after_header] + body + png[after_header:], png_source)


def png_source(raw: bytes) -> Hashable:
    """Return the checksum of the source that a picture was drawn from."""
    if not raw.startswith(PNG_SIGNATURE):
        raise HardwareError("no PNG picture")
    _, found, rest = raw.partition(b"tEXtSource\x00")
    return rest[:8] if found else None


def tool(name: str, package: str) -> str:
    """Return the path of an outside program.

    Raises:
        HardwareError: It is not installed; names the package.
    """
    found = shutil.which(name)
    if found is None:
        raise HardwareError(
            f"the program {name} is not there: `apt-get install {package}` (tools/setup.sh does)"
        )
    return found
