"""The harnesses: every core where the circuit has it, lengths, strain relief and screens told."""

import csv
import io
import re
from typing import Any
from xml.etree import ElementTree

import msgspec
import pytest
import yaml

from electrical.carrier import Pair, misplaced, on_carrier, read_placement
from electrical.circuit import split
from electrical.harness import draw, harnesses
from electrical.netlist import Bench
from electrical.schematics_boards import SHEETS
from electrical.tables import carrier_page, plugs_page, with_wiring_table
from electrical.titles import LICENCE
from mechanical.legible import struck_texts, tight_texts
from mechanical.params import read_params
from products import ROOT, HardwareError, png_source, svg_words

WIRING = ROOT / "hardware" / "wiring"


def harness(name: str) -> dict[str, Any]:
    read: dict[str, Any] = yaml.safe_load((WIRING / f"{name}.yml").read_text(encoding="utf-8"))
    return read


def test_ribbon_carries_the_whole_header_place_by_place() -> None:
    read = harness("header")
    for connector in read["connectors"].values():
        assert connector["pins"] == list(range(1, 41))
    (joined,) = read["connections"]
    assert [places for end in joined for places in end.values()] == [list(range(1, 41))] * 3


def test_ribbon_says_what_the_computer_has_at_each_used_place(kit: Bench) -> None:
    labels = harness("header")["connectors"]["A1 computer"]["pinlabels"]
    for pin in kit.pins.pin:
        assert labels[pin.header - 1] == f"BCM {pin.bcm}: {pin.signal}"
    assert sum("kept free" in str(label) for label in labels) == len(kit.pins.kept_free)


def test_cores_of_the_cables_are_those_of_the_circuit(kit: Bench) -> None:
    cables = harness("cables")["cables"]
    for cable in kit.circuit.cables:
        if cable.cores:
            drawn = cables[cable.ref]
            assert drawn["colors"] == [colour for colour, _, _ in cable.wires] + cable.spare
            assert drawn["shield"] == (len(cable.wires) < len(cable.cores))
            assert drawn["length"] == cable.length_m


@pytest.mark.parametrize("name", ["header", "cables"])
def test_drawing_shows_revision_status_and_licence(name: str, kit: Bench) -> None:
    raw = (WIRING / f"{name}.svg").read_bytes()
    words = " ".join(svg_words(raw))
    assert f"Revision {kit.circuit.revision}, {kit.circuit.date}." in words
    assert "Designed and simulated, not yet built." in words
    assert LICENCE.encode() in raw


def test_drawing_of_the_cables_shows_every_plug_and_part_at_their_ends(kit: Bench) -> None:
    words = " ".join(svg_words((WIRING / "cables.svg").read_bytes()))
    ends = {split(n)[0] for c in kit.circuit.cables for core in c.cores for n in core[1:] if n}
    assert all(re.search(rf"\b{ref}\b", words) for ref in ends)
    assert "Shield" not in words


@pytest.mark.parametrize("name", ["header", "cables"])
def test_every_core_ends_at_its_plugs_and_names_none_beside_it_anew(name: str) -> None:
    drawn, read = (WIRING / f"{name}.svg").read_bytes(), harness(name)
    words = svg_words(drawn)
    for connector in read["connectors"]:
        assert connector in words  # the plug's own heading
        assert not any(word.startswith(f"{connector}:") for word in words)
    # an edge to a plug that is not there would be drawn to a node of its own
    assert not any(re.fullmatch(r"p\d+[lr]", word) for word in words)


def test_picture_is_that_of_the_harness_beside_it(kit: Bench) -> None:
    for name in harnesses(kit):
        assert png_source((WIRING / f"{name}.png").read_bytes()) is not None


def test_same_harness_is_drawn_the_same_twice(kit: Bench) -> None:
    once, again = (draw(harnesses(kit)["header"]) for _ in range(2))
    assert once == again


def test_list_of_cables_has_every_cable_with_its_length(kit: Bench) -> None:
    lengths: dict[str, float] = {}
    for name in harnesses(kit):
        text = (WIRING / f"{name}.bom.tsv").read_text(encoding="utf-8")
        for row in csv.DictReader(io.StringIO(text), delimiter="\t"):
            if row["Unit"] == "m":
                lengths[row["Refs"]] = float(row["Quantity"])
    assert lengths == {cable.ref: cable.length_m for cable in kit.circuit.cables}


def test_page_tells_length_relief_and_screen_of_every_cable(kit: Bench) -> None:
    page = plugs_page(kit.circuit)
    for cable in kit.circuit.cables:
        part = next(p for p in page.split("\n## ") if p.startswith(f"{cable.ref}: "))
        assert f"({cable.length_m:g} m, " in part
        assert f"- Strain relief: {cable.relief}." in part
        assert f"- Screen: {cable.screen}." in part
        rows = [line for line in part.splitlines() if line.startswith("| screen |")]
        assert len(rows) == len(cable.cores) - len(cable.wires)


def test_carriers_page_has_every_pin_in_the_box_once(kit: Bench) -> None:
    page, circuit = carrier_page(kit.circuit), kit.circuit
    rows = [line.split(" | ") for line in page.splitlines() if line.count(" | ") == 3]
    told = [node for row in rows[2:] for cell in row[1:3] for node in cell.split(", ") if node]
    assert len(set(told)) == len(told)
    in_box = {
        node for node in circuit.net
        if circuit.part[split(node)[0]].place == "box" and not node.startswith("A1.")
    }  # fmt: skip
    assert set(told) == in_box
    for row in rows[2:]:
        net = row[0].removeprefix("| ")
        assert {circuit.net[node] for cell in row[1:3] for node in cell.split(", ") if node} == {
            net
        }


def test_carriers_page_keeps_boards_and_sockets_off_the_board(kit: Bench) -> None:
    row = next(r for r in carrier_page(kit.circuit).splitlines() if r.startswith("| drain_data |"))
    assert row == "| drain_data | R2.2 | A2.DOUT | |"


def test_carriers_picture_shows_every_part_and_can_be_read(kit: Bench) -> None:
    text = (WIRING / "carrier.svg").read_text(encoding="utf-8")
    assert set(on_carrier(kit.circuit)) <= set(svg_words(text.encode()))
    assert tight_texts(text) == []
    assert struck_texts(text) == []
    assert f"Revision {kit.circuit.revision}" in text


@pytest.mark.parametrize(
    ("at", "says"),
    [
        ({"R1": (26.0, 34.0)}, "R1 and R2 touch"),
        ({"R1": (2.0, 50.0)}, "R1 reaches over the edge"),
        ({"R1": (8.0, 94.0)}, "R1 lies on a screw"),
        ({"R99": (50.0, 50.0)}, "R99 is placed and not on the carrier, or the other way round"),
    ],
)
def test_placement_that_cannot_be_is_named(at: dict[str, Pair], says: str, kit: Bench) -> None:
    box, placement = read_params().control_box, read_placement()
    assert list(misplaced(kit.circuit, placement, box)) == []
    moved = msgspec.structs.replace(placement, at={**placement.at, **at})
    assert list(misplaced(kit.circuit, moved, box)) == [says]


def test_screens_of_the_load_cells_end_at_the_box_only(kit: Bench) -> None:
    screened = [c for c in kit.circuit.cables if len(c.wires) < len(c.cores)]
    assert [cable.ref for cable in screened] == ["W1", "W2"]
    for cable in screened:
        assert [far for colour, _, far in cable.cores if colour == "screen"] == [""]


def test_plugs_that_do_not_belong_cannot_be_mated(kit: Bench) -> None:
    round_plugs = [p.kind for p in kit.circuit.parts if p.kind.startswith("socket_")]
    assert len(round_plugs) == len(set(round_plugs)) == 3


def test_page_with_no_table_is_refused(kit: Bench) -> None:
    with pytest.raises(HardwareError, match="lost its table"):
        with_wiring_table("# Wiring\n", kit.pins)


@pytest.mark.parametrize("name", SHEETS)
def test_sheet_is_a_drawing_with_title_and_licence(name: str, kit: Bench) -> None:
    raw = (ROOT / "hardware" / "schematic" / f"{name}.svg").read_bytes()
    assert ElementTree.fromstring(raw).tag.endswith("svg")
    assert raw.startswith(f"<!-- {LICENCE} -->".encode())
    assert f"Revision {kit.circuit.revision}" in " ".join(svg_words(raw))
