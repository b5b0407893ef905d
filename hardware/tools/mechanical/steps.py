# SPDX-License-Identifier: Apache-2.0
"""The mechanics' steps of the generator."""

from collections.abc import Iterator

from mechanical.cutting import dxf_meaning, dxf_text
from mechanical.figures import FIGURES
from mechanical.mechanics_page import mechanics_page
from mechanical.params import PLATFORMS, read_params
from mechanical.part_sheets import part_sheet
from mechanical.parts_list import DRAWINGS, FILES, parts_csv, slug
from mechanical.plan import flat_parts
from mechanical.plate_sheets import plate_sheet
from mechanical.platform_sheet import platform_sheet
from mechanical.printed import printed_parts, stl_bytes, stl_meaning
from products import Product, sheet_product, table_product, text_product

FIGURE_FOLDER = "hardware/docs/figures"


def cad() -> Iterator[Product]:
    """Cutting files and printed parts."""
    params = read_params()
    for flat in flat_parts(params):
        path = f"{FILES}/{slug(flat.ref, flat.name)}.dxf"
        text = dxf_text(flat, params.revision, params.status)
        yield Product(path, text.encode(), dxf_meaning)
    for part in printed_parts(params):
        raw = stl_bytes(
            part.solid, f"drainscale {part.ref} {part.name}, rev. {params.revision}, mm"
        )
        yield Product(f"{FILES}/{slug(part.ref, part.name)}.stl", raw, stl_meaning)


def mechanical_parts() -> Iterator[Product]:
    """The mechanics' list of parts."""
    yield table_product("hardware/cad/parts.csv", parts_csv(read_params()))


def drawings() -> Iterator[Product]:
    """A drawing of each part, and of each platform put together."""
    params = read_params()
    for flat in flat_parts(params):
        sheet = plate_sheet(flat, params)
        yield sheet_product(f"{DRAWINGS}/{slug(flat.ref, flat.name)}.svg", sheet.svg())
    for part in printed_parts(params):
        sheet = part_sheet(part, params)
        yield sheet_product(f"{DRAWINGS}/{slug(part.ref, part.name)}.svg", sheet.svg())
    for name in PLATFORMS:
        yield sheet_product(f"{DRAWINGS}/{name}-platform.svg", platform_sheet(params, name).svg())


def figures() -> Iterator[Product]:
    """The pictures of the guides."""
    params = read_params()
    for name, draw in FIGURES.items():
        yield sheet_product(f"{FIGURE_FOLDER}/{name}.svg", draw(params).svg())


def mechanics() -> Iterator[Product]:
    """The mechanics sheet."""
    yield text_product("hardware/docs/mechanics.md", mechanics_page(read_params()))
