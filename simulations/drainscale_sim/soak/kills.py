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
            return f"{self.name} withheld"
        return f"{self.name} {self.off_mL:+.1f} (U {self.U_mL:.1f})"


@dataclass(frozen=True)
class Tried:
    """What the kills did to one job."""

    name: str
    unkilled: Survived
    back: Survived
    on: Survived

    @property
    def is_same(self) -> bool:
        """Whether the run that was set back answers as the one without kills, byte for byte."""
        return as_bytes(self.back.answer) == as_bytes(self.unkilled.answer)

    @property
    def is_good(self) -> bool:
        """Whether all holds that has to hold."""
        missed = all(one.is_within for one in figures(self.on))
        return self.is_same and missed and self.on.is_done and not gaps_untold(self.on)

    def lines(self) -> list[str]:
        """Say it in lines."""
        same = "the same to the last byte" if self.is_same else "ANOTHER ANSWER"
        figured = ", ".join(map(str, figures(self.on)))
        return [
            f"{self.name}: {len(self.back.kills)} kills, world set back: {same}",
            f"{self.name}: {len(self.on.kills)} kills, world runs on: off by mL: {figured};"
            f" gaps told {len(self.on.answer['gaps'])}, not told {gaps_untold(self.on)};"
            f" {'done' if self.on.is_done else 'NOT DONE'}, {self.on.answer['level']['verdict']}",
        ]


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


def kill_and_compare(scenario: str, seed: int, n: int, folder: Path) -> Tried:
    """Run a job without kills, with kills and set back, with kills and run on.

    Args:
        scenario: Its file's name.
        seed: The run, and where the kills fall.
        n: How many kills.
        folder: Where the runs keep their things.
    """
    name = f"{scenario}-{seed}"
    unkilled = survive(Run(scenario, seed, folder / f"{name}-unkilled", by_instruments=True), ())
    kills_s = moments(f"{name} kills", n, unkilled.lasted_s)
    back = survive(Run(scenario, seed, folder / f"{name}-back", by_instruments=True), kills_s)
    on = survive(Run(scenario, seed, folder / f"{name}-on"), kills_s, run_on(DOWN_S))
    return Tried(name, unkilled, back, on)


def moments(seed: str, n: int, lasted_s: float) -> list[float]:
    """Draw the moments of the kills."""
    rng = Random(seed)
    return sorted(rng.uniform(FIRST_S, lasted_s - LAST_S) for _ in range(n))
