"""What systemd says of a unit file, without running it."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

ANALYZE = shutil.which("systemd-analyze")
needs_systemd = pytest.mark.skipif(ANALYZE is None, reason="no systemd-analyze here")


def said_of(unit: Path, folder: Path) -> list[str]:
    """Tell what systemd finds wrong with a unit, but for its command, which need not be here."""
    here = folder / unit.name
    text = unit.read_text(encoding="utf-8")
    command = re.sub(r"(?m)^ExecStart=\S+", f"ExecStart={shutil.which('true')}", text)
    here.write_text(command, encoding="utf-8")
    done = subprocess.run(
        [str(ANALYZE), "verify", "--man=no", str(here)], capture_output=True, text=True, check=False
    )
    about_it = [line for line in done.stderr.splitlines() if unit.name in line]
    return about_it or ([] if done.returncode == 0 else [done.stderr])


def exposure_of(unit: Path) -> float:
    """Tell how exposed a unit is: 0 is well confined, 10 not at all.

    Source: systemd-analyze(1), security.
    """
    done = subprocess.run(
        [str(ANALYZE), "security", "--offline=true", "--no-pager", str(unit)],
        capture_output=True,
        text=True,
        check=False,
    )
    level = re.search(r"exposure level for \S+: (\d+\.\d)", done.stdout)
    assert level, done.stdout + done.stderr
    return float(level[1])
