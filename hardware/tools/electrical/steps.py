# SPDX-License-Identifier: Apache-2.0
"""The electrical half as files for ``generate.py``."""

from collections.abc import Iterator

from electrical.bill import bill, bill_csv
from electrical.carrier import carrier_picture
from electrical.findings import decks, findings
from electrical.harness import draw, harnesses, yaml_text
from electrical.netlist import Bench, bench
from electrical.rules import breaches
from electrical.schematics_boards import SHEETS
from electrical.tables import (
    carrier_page,
    findings_csv,
    findings_meaning,
    netlist_csv,
    plugs_page,
    with_wiring_table,
)
from mechanical.params import read_params
from mechanical.parts_list import parts_rows
from products import (
    ROOT,
    HardwareError,
    Product,
    png_product,
    sheet_product,
    svg_product,
    table_product,
    text_product,
)

WIRING_PAGE = "docs/reference/wiring.md"


def wiring(kit: Bench | None = None) -> Iterator[Product]:
    """Make the harnesses, the cables' page, and the table of the documentation's page."""
    kit = kit or sound_bench()
    for name, harness in harnesses(kit).items():
        text, drawn = yaml_text(harness), draw(harness)
        path = f"hardware/wiring/{name}"
        yield text_product(f"{path}.yml", text)
        yield svg_product(f"{path}.svg", drawn.svg)
        yield png_product(f"{path}.png", drawn.png, text.encode())
        yield table_product(f"{path}.bom.tsv", drawn.bill_tsv, "\t")
    yield text_product("hardware/wiring/plugs.md", plugs_page(kit.circuit))
    yield text_product("hardware/wiring/carrier.md", carrier_page(kit.circuit))
    drawing = carrier_picture(kit.circuit, read_params().control_box)
    yield sheet_product("hardware/wiring/carrier.svg", drawing)
    page = (ROOT / WIRING_PAGE).read_text(encoding="utf-8")
    yield text_product(WIRING_PAGE, with_wiring_table(page, kit.pins))


def schematic(kit: Bench | None = None) -> Iterator[Product]:
    """Make the schematic's sheets and the netlist."""
    kit = kit or sound_bench()
    for name, sheet in SHEETS.items():
        yield svg_product(f"hardware/schematic/{name}.svg", sheet(kit))
    yield table_product("hardware/schematic/netlist.csv", netlist_csv(kit.circuit))


def simulation(kit: Bench | None = None) -> Iterator[Product]:
    """Make the decks of the driver stages and the table of what they did.

    Raises:
        HardwareError: A stage breaks a limit.
    """
    kit = kit or sound_bench()
    for name, deck in decks(kit).items():
        yield text_product(f"hardware/spice/{name}.cir", deck)
    found = findings(kit)
    broken = [finding.name for finding in found if not finding.is_kept]
    if broken:
        raise HardwareError(f"simulation: limit broken by {', '.join(broken)}")
    yield Product("hardware/spice/results.csv", findings_csv(found).encode(), findings_meaning)


def parts(kit: Bench | None = None) -> Iterator[Product]:
    """Make the list of parts."""
    kit = kit or sound_bench()
    lines = bill(kit.circuit, parts_rows(read_params()))
    yield table_product("hardware/bom.csv", bill_csv(lines))


def sound_bench() -> Bench:
    """Return the kit's circuit.

    Raises:
        HardwareError: It breaks a rule; names all breaches.
    """
    kit = bench()
    found = breaches(kit.circuit)
    if found:
        raise HardwareError("circuit: " + "; ".join(found))
    return kit
