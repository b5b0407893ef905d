"""Kill the agent of one job again and again, and see what that costs: nothing, or what it says.

Two ways. *Set back*: the world goes back to where the spool ends, so nothing was missed, and the
answer has to be that of a run without kills, byte for byte (by instruments on fixed times; see
there). *Run on*: the world goes on while the agent is down, so the answer says which stretches it
missed, and still holds the truth within its own uncertainty.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

import msgspec

from drainscale_sim.closed_loop.processes import Afterwards, Kill, Run, run_on, set_back

DOWN_S = 6.0  # from a kill until the agent reads again: systemd waits 2 s, a Zero 2 loads some
FIRST_S, LAST_S = 20.0, 30.0  # before, nothing is kept yet; after, the last press would be lost
Json = dict[str, Any]


@dataclass(frozen=True)
class Survived:
    """One job with its kills."""

    kills: Sequence[Kill]
    answer: Json
    truth: Json
    lasted_s: float
    is_done: bool

    def __str__(self) -> str:
        return f"{len(self.kills)} kills, {'done' if self.is_done else 'NOT DONE'}"


@dataclass(frozen=True)
class Missed:
    """How far a figure is from the truth, and its expanded uncertainty; None: withheld."""

    name: str
    off_mL: float | None
    U_mL: float | None

    @property
    def is_within(self) -> bool:
        """Whether the truth lies within U; a value that is withheld claims nothing."""
        return self.off_mL is None or (self.U_mL is not None and abs(self.off_mL) <= self.U_mL)

    def __str__(self) -> str:
        if self.off_mL is None or self.U_mL is None:
            return "withheld"
        return f"{self.off_mL:+.1f} (U {self.U_mL:.1f})" + " NO" * (not self.is_within)


@dataclass(frozen=True)
class Tried:
    """What the kills did to one job.

    Attributes:
        name: Scenario and seed.
        kills_n: How many kills there had to be.
        unkilled: The run without.
        back: The run whose world was set back after each.
        on: The run whose world ran on.
    """

    name: str
    kills_n: int
    unkilled: Survived
    back: Survived
    on: Survived

    @property
    def is_same(self) -> bool:
        """Whether the run that was set back answers as the one without kills, byte for byte."""
        return as_bytes(self.back.answer) == as_bytes(self.unkilled.answer)


def as_bytes(answer: Json) -> bytes:
    """Write an answer as `drainscale replay` does."""
    return msgspec.json.format(msgspec.json.encode(answer), indent=1) + b"\n"


def figures(survived: Survived) -> list[Missed]:
    """Hold drained, added and spilled volume against the truth."""
    pairs = (
        ("drained", "drained", "volume_L"),
        ("added", "refill", "added_volume_20C_L"),
        ("spilled", "spill", "volume_L"),
    )
    return [
        Missed(
            name,
            _mL(survived.answer[part][key], survived.truth[part][key]),
            _mL(survived.answer[part]["U_volume_L"]),
        )
        for name, part, key in pairs
    ]


def _mL(told_L: float | None, true_L: float = 0.0) -> float | None:
    return None if told_L is None else 1000.0 * (told_L - true_L)


def gaps_untold(survived: Survived) -> list[float]:
    """List the kills that no gap of the answer covers."""
    gaps = survived.answer["gaps"]
    at = [kill.at_s + 0.5 * DOWN_S for kill in survived.kills]
    return [t for t in at if not any(start < t < end for start, end in gaps)]


def survive(run: Run, kills_s: Sequence[float], afterwards: Afterwards = set_back) -> Survived:
    """Run a job through its kills."""
    run.folder.mkdir(parents=True)
    with run.world() as world:
        kills = run.through(world, kills_s, afterwards)
        lasted_s, truth = world.now_s(), world.truth(f"{run.scenario}-{run.seed}")
    told = run.told()
    return Survived(kills, told.answer, truth, lasted_s, told.is_done)


def unkilled(scenario: str, seed: int, folder: Path) -> Survived:
    """Run a job without kills, by instruments.

    Args:
        scenario: Its file's name.
        seed: The run.
        folder: Where the runs of this job keep their things.
    """
    return survive(Run(scenario, seed, folder / "unkilled", by_instruments=True), ())


def killed_and_set_back(
    scenario: str, seed: int, folder: Path, kills_s: Sequence[float]
) -> Survived:
    """Run a job through its kills, by instruments, the world set back after each."""
    return survive(Run(scenario, seed, folder / "back", by_instruments=True), kills_s)


def killed_while_it_runs_on(
    scenario: str, seed: int, folder: Path, kills_s: Sequence[float]
) -> Survived:
    """Run a job through its kills on the simulated board, the world running on."""
    return survive(Run(scenario, seed, folder / "on"), kills_s, run_on(DOWN_S))


def kill_and_compare(scenario: str, seed: int, n: int, folder: Path) -> Tried:
    """Run a job without kills, with kills and set back, with kills and run on.

    Args:
        scenario: Its file's name.
        seed: The run, and where the kills fall.
        n: How many kills.
        folder: Where the runs keep their things.
    """
    name = f"{scenario}-{seed}"
    job = (scenario, seed, folder / name)
    whole = unkilled(*job)
    kills_s = moments(name, n, whole.lasted_s)
    back, on = killed_and_set_back(*job, kills_s), killed_while_it_runs_on(*job, kills_s)
    return Tried(name, n, whole, back, on)


def moments(name: str, n: int, lasted_s: float) -> list[float]:
    """Draw the moments of the kills, s of the world's time; the same for each run of a job."""
    rng = Random(f"{name} kills")
    return sorted(rng.uniform(FIRST_S, lasted_s - LAST_S) for _ in range(n))
