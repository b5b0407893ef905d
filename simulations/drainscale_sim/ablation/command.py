"""Switch parts of the measuring core off, one at a time, and tell what each is worth."""

import argparse
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from drainscale_sim.ablation import parts_flow, parts_fluid, parts_scale
from drainscale_sim.ablation.cost import Finding, compare
from drainscale_sim.ablation.part import Part
from drainscale_sim.ablation.runs import load, run
from drainscale_sim.ablation.table import lines, markdown
from drainscale_sim.score.replays import find_cases

CHECKOUT = Path(__file__).parents[3]
PARTS: tuple[Part, ...] = parts_scale.PARTS + parts_flow.PARTS + parts_fluid.PARTS


def main(argv: Sequence[str]) -> int:
    """Run the command.

    Returns:
        0; 2 where the folder cannot be read or a part is not known.
    """
    asked = _parser().parse_args(argv)
    try:
        parts = chosen(asked.only)
        if asked.list:
            print("\n".join(f"{one.key:20} {one.what} -> {one.instead}" for one in parts))
            return 0
        loaded = load(find_cases(asked.folder))
    except (OSError, ValueError) as error:
        print(f"ablation: {error}", file=sys.stderr)
        return 2
    full = run(loaded)
    found: list[Finding] = []
    for number, one in enumerate(parts, start=1):
        started_s = time.monotonic()
        finding = compare(one, full, run(loaded, one))
        found.append(finding)
        took_s = time.monotonic() - started_s
        print(f"# {number} of {len(parts)}, {took_s:.0f} s", file=sys.stderr)
        print("\n".join(lines([finding])), flush=True)
    if asked.markdown is not None:
        asked.markdown.write_text("\n".join(markdown(found)) + "\n", encoding="utf-8")
    return 0


def chosen(keys: Sequence[str]) -> tuple[Part, ...]:
    """Return the parts of these names, all without any.

    Raises:
        ValueError: A name that is none.
    """
    unknown = sorted(set(keys) - {one.key for one in PARTS})
    if unknown:
        raise ValueError(f"no such part: {', '.join(unknown)} (--list shows all)")
    return tuple(one for one in PARTS if not keys or one.key in keys)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m drainscale_sim.ablation", description=__doc__)
    parser.add_argument(
        "folder",
        type=Path,
        nargs="?",
        default=CHECKOUT / "tests/data/recordings",
        help="recordings with truth (default: the test recordings)",
    )
    parser.add_argument("--only", nargs="+", default=[], metavar="PART", help="these parts alone")
    parser.add_argument("--list", action="store_true", help="name the parts and stop")
    parser.add_argument("--markdown", type=Path, help="write the table here as well")
    return parser
