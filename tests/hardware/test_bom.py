"""The list of parts against the circuit and the mechanics, both ways."""

import csv
import re
from collections import Counter

import pytest

from electrical.bill import HEADINGS, bill
from electrical.netlist import Bench
from mechanical.params import read_params
from products import HARDWARE, HardwareError

Row = dict[str, str]


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    with (HARDWARE / "bom.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def refs(row: Row) -> list[str]:
    return row["ref"].split()


def test_every_reference_of_circuit_cables_and_mechanics_is_listed_once(
    rows: list[Row], kit: Bench
) -> None:
    listed = Counter((ref, row["fit"]) for row in rows for ref in refs(row))
    assert set(listed.values()) == {1}
    circuit, params = kit.circuit, read_params()
    known = {*circuit.part, *(cable.ref for cable in circuit.cables), *params.made, *params.bought}
    known |= {ref for fitting in circuit.fittings for ref in fitting.refs}
    assert {ref for ref, _ in listed} == known


def test_plates_screws_and_stops_are_listed_in_the_numbers_of_the_mechanics(
    rows: list[Row],
) -> None:
    params = read_params()
    listed = {(row["ref"], row["fit"]): int(row["qty"]) for row in rows}
    for ref, part in {**params.made, **params.bought}.items():
        assert listed.get((ref, "base"), 0) == part.base
        assert listed.get((ref, "option"), 0) == part.option
    assert listed["H3", "base"] == listed["H4", "base"] == 4  # a stop at each corner


def test_openings_of_the_box_are_for_parts_that_are_listed(rows: list[Row]) -> None:
    listed = {ref for row in rows for ref in refs(row)}
    assert {opening.ref for opening in read_params().control_box.openings} <= listed


def test_every_line_is_complete(rows: list[Row]) -> None:
    for row in rows:
        assert tuple(row) == HEADINGS
        assert all(row.values()), row
        assert int(row["qty"]) >= len(refs(row))
        assert row["fit"] in ("base", "option")


def test_option_is_the_supply_scale_alone(rows: list[Row]) -> None:
    for row in rows:
        if row["fit"] == "option":
            assert "supply" in row["needed_for"], row
    assert any(row["ref"] == "LC2" and row["fit"] == "option" for row in rows)


def test_key_figures_hold_the_values_of_the_circuit(rows: list[Row], kit: Bench) -> None:
    figures = {ref: row["key_figures"] for row in rows for ref in refs(row)}
    for ref, part in kit.circuit.part.items():
        if part.kind in ("resistor", "capacitor"):
            assert figures[ref].startswith(f"{part.value}, ")
        if part.colour:
            assert figures[ref].startswith(f"{part.colour}, ")
    assert "20 kg" in figures["LC1"]
    assert "100 mΩ" in figures["Q1"]


def test_clues_of_the_wiring_are_listed(rows: list[Row], kit: Bench) -> None:
    listed = {ref for row in rows for ref in refs(row)}
    for cable in kit.circuit.cables:
        for ref in re.findall(r"\b[XPHJW]\d+\b", f"{cable.relief} {cable.screen}"):
            assert ref in listed, f"{cable.ref} names {ref}"


def test_reference_used_by_circuit_and_mechanics_is_refused(kit: Bench) -> None:
    screw = ("R1", "4", "0", "screw, M6", "", "drain scale", "", "")
    with pytest.raises(HardwareError, match="R1 is there twice"):
        bill(kit.circuit, [screw])


def test_equal_parts_stand_on_one_line(rows: list[Row]) -> None:
    row = next(row for row in rows if "R11" in refs(row))
    assert refs(row) == ["R11", "R12", "R13", "R14", "R15"]
    assert row["qty"] == "5"
