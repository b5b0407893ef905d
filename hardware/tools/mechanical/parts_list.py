# SPDX-License-Identifier: Apache-2.0
"""The mechanics' list of parts: made ones (P) with their files, bought ones (H)."""

import csv
import io
from collections.abc import Iterator

from mechanical.params import Params
from mechanical.plan import flat_parts
from mechanical.printed import printed_parts
from products import HardwareError

COLUMNS = ("ref", "base", "option", "description", "figures", "needed_for", "file", "drawing")
FILES, DRAWINGS = "hardware/cad/out", "hardware/cad/drawings"


def slug(ref: str, name: str) -> str:
    """Name of a part's files."""
    words = name.replace(",", "").split()
    return "-".join([ref.lower(), *words])


def parts_rows(params: Params) -> Iterator[tuple[str, ...]]:
    """The rows of the list, by reference.

    Raises:
        HardwareError: A made part without its quantity, or a quantity without its part.
    """
    made: dict[str, tuple[str, str, str]] = {}
    for flat in flat_parts(params):
        material = f"{flat.material}, {flat.thickness:g} mm"
        made[flat.ref] = flat.name, material, f"out/{slug(flat.ref, flat.name)}.dxf"
    for part in printed_parts(params):
        made[part.ref] = part.name, part.material, f"out/{slug(part.ref, part.name)}.stl"
    if set(made) != set(params.made):
        raise HardwareError(
            f"params.toml: [made] and the parts differ: {set(made) ^ set(params.made)}"
        )
    for ref in sorted(made, key=lambda one: int(one[1:])):
        name, material, file = made[ref]
        needed = params.made[ref]
        drawing = f"drawings/{slug(ref, name)}.svg"
        count = str(needed.base), str(needed.option)
        yield ref, *count, name, material, needed.needed_for, file, drawing
    for ref, bought in params.bought.items():
        count = str(bought.base), str(bought.option)
        yield ref, *count, bought.what, bought.figures, bought.needed_for, "", ""


def parts_csv(params: Params) -> str:
    """The list as CSV."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(parts_rows(params))
    return stream.getvalue()
