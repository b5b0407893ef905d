"""What the kit's process loads: it has to suit a board with 512 MB."""

import subprocess
import sys
from importlib.metadata import PackageNotFoundError, requires
from importlib.util import find_spec

from packaging.requirements import Requirement

HEAVY = ("numpy", "scipy", "pandas", "matplotlib", "fastapi", "pint", "amqtt", "uvicorn")
COMMANDS = (
    "drainscale.agent.command",
    "drainscale.agent.selftest.command",
    "drainscale.replay.command",
)
# the package uncertainties loads numpy where somebody has installed it, so it is hidden here
CHILD = """
import importlib, sys
sys.modules["numpy"] = None
for name in sys.argv[1:]:
    importlib.import_module(name)
print(",".join(sorted({name.partition(".")[0] for name, m in sys.modules.items() if m})))
"""


def loaded(*names: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", CHILD, *names], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return set(done.stdout.strip().split(","))


def needed(package: str, extras: frozenset[str]) -> set[str]:
    """All that an installation brings, as far as it is here to be asked."""
    found: set[str] = set()
    queue = [(package, extras)]
    while queue:
        name, asked = queue.pop()
        try:
            lines = requires(name) or []
        except PackageNotFoundError:
            continue
        for line in lines:
            requirement = Requirement(line)
            marker = requirement.marker
            if marker is None or any(marker.evaluate({"extra": e}) for e in (asked or {""})):
                if requirement.name not in found:
                    queue.append((requirement.name, frozenset(requirement.extras)))
                found.add(requirement.name)
    return found


def test_installing_the_kit_brings_nothing_heavy() -> None:
    brought = needed("drainscale", frozenset({"", "pi"}))
    assert {"msgspec", "uncertainties", "paho-mqtt", "gpiozero"} <= brought
    assert not brought & set(HEAVY)


def test_commands_of_the_kit_load_nothing_heavy_and_no_other_package_of_ours() -> None:
    assert all(find_spec(name) for name in ("pint", "amqtt"))  # they could be loaded here
    found = loaded(*COMMANDS)
    assert {"drainscale", "msgspec"} <= found
    assert not found & {*HEAVY, "drainscale_server", "drainscale_sim"}
