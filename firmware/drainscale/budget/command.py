"""Tell the error budget of a drained volume, and what would halve it."""

import argparse
import dataclasses
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import msgspec

from drainscale.budget.kit import KitBudget, Way, kit_budget
from drainscale.budget.kits import all_kits
from drainscale.budget.page import budget_lines, kits_lines
from drainscale.budget.terms import CELL_CLASSES
from drainscale.errors import BenchFileError
from drainscale.quantities.job import ScaleSettings
from drainscale.quantities.measured import Measured
from drainscale.recording.job_file import read_job
from drainscale.recording.job_rules import SECTIONS
from drainscale.recording.ruled_toml import RuledToml, read_text
from drainscale.recording.toml_rules import Rule, Section

LITRES = (2.0, 4.0, 6.0)
USUAL = Way()


def main(argv: Sequence[str]) -> int:
    """Run ``drainscale budget``; return the exit status."""
    options = _options(argv)
    if options.kits:
        print("\n".join(kits_lines(all_kits(), options.litres)))
        return 0
    job = read_job(options.job)
    if options.bench is not None:
        job = dataclasses.replace(job, scale=read_scale(options.bench))
    way = Way(options.cell, options.tare_kg, options.fluid_C, options.u_fluid_C)
    budgets = [kit_budget(job, litres, way) for litres in options.litres]
    if options.json:
        answer = [_plain(budget) for budget in budgets]
        print(msgspec.json.format(msgspec.json.encode(answer), indent=1).decode())
    else:
        print("\n".join(budget_lines(budgets)))
    return 0


def _options(argv: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="drainscale budget",
        description="Form the uncertainty budget of a drained volume from a kit's calibration.",
    )
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--job", type=Path, help="the service's NAME.job.toml")
    what.add_argument("--kits", action="store_true", help="compare five kits instead")
    parser.add_argument("--bench", type=Path, help="take [scale] from this bench file")
    parser.add_argument("--litres", type=float, nargs="+", default=LITRES, help="drained, at 20 °C")
    parser.add_argument(
        "--cell", choices=CELL_CLASSES, default=USUAL.cell, help="class of the cell"
    )
    parser.add_argument("--tare-kg", type=float, default=USUAL.tare_kg, help="container and funnel")
    parser.add_argument("--fluid-C", type=float, default=USUAL.fluid_C, help="fluid as it runs out")
    parser.add_argument(
        "--u-fluid-C", type=float, default=USUAL.u_fluid_C, help="standard uncertainty of that"
    )
    parser.add_argument("--json", action="store_true", help="print it for programs")
    return parser.parse_args(argv)


def read_scale(path: Path) -> ScaleSettings:
    """Read the drain scale of a bench file; its other tables are somebody else's to judge.

    Raises:
        BenchFileError: No such file, no [scale], or a key of it out of bounds.
    """
    text = read_text(path, BenchFileError)
    sections = {"scale": SECTIONS["scale"]} | {
        name: _anything(table) for name, table in _other_tables(text).items()
    }
    tables = RuledToml(text, str(path), sections, BenchFileError).tables()
    return msgspec.convert(tables["scale"], ScaleSettings)


def _other_tables(text: str) -> dict[str, Mapping[str, Any]]:
    try:
        tables = tomllib.loads(text)
    except (ValueError, RecursionError):
        return {}  # RuledToml says what is wrong, and where
    return {
        name: table for name, table in tables.items() if name != "scale" and isinstance(table, dict)
    }


def _anything(table: Mapping[str, Any]) -> Section:
    return Section({key: Rule("anything", lambda _: True) for key in table}, is_required=False)


def _plain(budget: KitBudget) -> dict[str, Any]:
    return {
        "volume_20C_L": budget.volume_20C_L,
        "record": _shares(budget.record),
        "whole": _shares(budget.whole),
        "repeatability_u_kg": {
            "said": budget.said_u_kg,
            "held": round(budget.held_u_kg, 6),
            "advised": round(budget.advised_u_kg, 6),
        },
    }


def _shares(measured: Measured) -> dict[str, Any]:
    return {
        "volume_L": round(measured.value, 6),
        "U_volume_L": round(measured.U, 6),
        "budget": [
            {"source": one.source, "u_L": round(one.u, 6), "share": round(one.fraction, 4)}
            for one in measured.shares
        ],
    }
