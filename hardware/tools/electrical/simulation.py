# SPDX-License-Identifier: Apache-2.0
"""Decks through ngspice."""

import re
import subprocess
import tempfile
from pathlib import Path

from products import HardwareError, tool

TIME_LIMIT_S = 60.0
MEASURED = re.compile(r"(?m)^(\w+)\s+=\s+([-+.\deE]+)")


def measure(deck: str) -> dict[str, float]:
    """Run a deck and return what its ``.meas`` lines measured, names in small letters.

    Raises:
        HardwareError: ngspice is not there, fails, or leaves a measurement out.
    """
    program = tool("ngspice", "ngspice")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "deck.cir"
        path.write_text(deck, encoding="utf-8")
        run = subprocess.run(
            [program, "-b", str(path)],
            cwd=folder,
            capture_output=True,
            text=True,
            timeout=TIME_LIMIT_S,
            check=False,
        )
    found = {name.lower(): float(value) for name, value in MEASURED.findall(run.stdout)}
    wanted = {name.lower() for name in re.findall(r"(?m)^\.meas tran (\w+)", deck)}
    if run.returncode != 0 or not wanted <= set(found):
        raise HardwareError(
            f"ngspice measured no {', '.join(sorted(wanted - set(found)))}:"
            f" {(run.stderr or run.stdout).strip()[-400:]}"
        )
    return {name: found[name] for name in wanted}
