# SPDX-License-Identifier: Apache-2.0
"""Writes every generated file of the hardware dossier, or compares (``--check``).

Run it as ``.venv/bin/python hardware/tools/generate.py``; ``make hardware`` does. Each step
makes files from the sources ``firmware/drainscale/pins.toml``, ``hardware/nets.toml`` and
``hardware/cad/``.
"""

import argparse
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from electrical import steps
from mechanical import steps as mechanical
from mechanical.parts_list import DRAWINGS, FILES
from products import ROOT, HardwareError, Product


@dataclass(frozen=True)
class Step:
    """A part of the dossier.

    Attributes:
        products: Makes the files.
        owns: Folders in which every file is made by this step, from the top of the checkout: what
            else lies there was left behind.
    """

    products: Callable[[], Iterable[Product]]
    owns: tuple[str, ...] = ()


# One line per part of the dossier, by its name on the command line.
STEPS: dict[str, Step] = {
    "wiring": Step(steps.wiring, owns=("hardware/wiring",)),
    "schematic": Step(steps.schematic, owns=("hardware/schematic",)),
    "simulation": Step(steps.simulation, owns=("hardware/spice",)),
    "parts": Step(steps.parts),
    "cad": Step(mechanical.cad, owns=(FILES,)),
    "mechanical-parts": Step(mechanical.mechanical_parts),
    "drawings": Step(mechanical.drawings, owns=(DRAWINGS,)),
    "figures": Step(mechanical.figures, owns=(mechanical.FIGURE_FOLDER,)),
    "mechanics": Step(mechanical.mechanics),
}


def write(step: Step) -> Iterator[str]:
    """Write a step's files; yield the path of each that changed."""
    made = list(step.products())
    for product in made:
        path = ROOT / product.path
        if not path.exists() or path.read_bytes() != product.content:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(product.content)
            yield product.path
    for left in _left_behind(step, made):
        (ROOT / left).unlink()
        yield f"{left} (removed)"


def differences(step: Step) -> Iterator[str]:
    """Yield a line for each file of a step that is not as the sources have it."""
    made = list(step.products())
    for product in made:
        path = ROOT / product.path
        if not path.exists():
            yield f"{product.path}: missing"
        elif product.meaning(path.read_bytes()) != product.meaning(product.content):
            yield f"{product.path}: differs from its sources"
    for left in _left_behind(step, made):
        yield f"{left}: no step makes it"


def _left_behind(step: Step, made: list[Product]) -> Iterator[str]:
    paths = {product.path for product in made}
    for folder in step.owns:
        for path in sorted((ROOT / folder).rglob("*")):
            name = path.relative_to(ROOT).as_posix()
            if path.is_file() and name not in paths:
                yield name


def main(argv: Sequence[str]) -> int:
    """Write or compare; return 1 where something differs, 2 where a tool or source fails."""
    parser = argparse.ArgumentParser(prog="generate", description=__doc__)
    parser.add_argument("steps", nargs="*", metavar="step", help=f"of {', '.join(STEPS)}; else all")
    parser.add_argument("--check", action="store_true", help="compare only, write nothing")
    wanted = parser.parse_args(argv)
    unknown = [name for name in wanted.steps if name not in STEPS]
    if unknown:
        parser.error(f"no step {unknown[0]}: there is {', '.join(STEPS)}")
    steps = [STEPS[name] for name in wanted.steps or STEPS]
    try:
        lines = [line for step in steps for line in (differences if wanted.check else write)(step)]
    except HardwareError as error:
        print(f"hardware: {error}", file=sys.stderr)
        return 2
    for line in lines:
        print(line)
    if wanted.check and lines:
        print("hardware: run `make hardware`, look at what changed, commit it", file=sys.stderr)
    return 1 if wanted.check and lines else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
