"""The parts of a soak: what is begun in which order, and what is shown and claimed of each."""

from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path
from typing import ParamSpec, Protocol, TypeVar

from rich.table import Table

from drainscale_sim.soak.kills import (
    Survived,
    Tried,
    killed_and_set_back,
    killed_while_it_runs_on,
    moments,
    unkilled,
)
from drainscale_sim.soak.kills_told import kills_claims, kills_table, tried
from drainscale_sim.soak.outage import BROKERS, Outage, outlive
from drainscale_sim.soak.outage_told import outage_claims, outages_table
from drainscale_sim.soak.services import (
    Ran,
    replays_claims,
    replays_table,
    run_service,
    services_claim,
    services_table,
)
from drainscale_sim.soak.summary import Claim, outcome

PARTS = ("services", "replay", "kills", "broker")

P = ParamSpec("P")
T = TypeVar("T")
Show = Callable[[Table], None]


class Begins(Protocol):
    """Who has work done."""

    def begin(
        self, title: str, piece: Callable[P, T], *args: P.args, **named: P.kwargs
    ) -> Future[T]:
        """Have a piece of work done."""
        ...


@dataclass(frozen=True)
class Plan:
    """What is run.

    Attributes:
        parts: Which of ``PARTS``.
        names: The scenarios.
        seeds: Of the services; the first is that of the kills and of the broker's outage.
        kills_n: How often the agent of one job is killed.
    """

    parts: frozenset[str]
    names: Sequence[str]
    seeds: range
    kills_n: int

    @property
    def has_services(self) -> bool:
        """Whether services are run: what is replayed has to have been live."""
        return bool(self.parts & {"services", "replay"})

    @property
    def has_kills(self) -> bool:
        """Whether the agent is killed at all."""
        return "kills" in self.parts and self.kills_n > 0

    @property
    def pieces_n(self) -> int:
        """How many pieces of work that makes."""
        pieces_n = len(self.names) * len(self.seeds) * self.has_services
        pieces_n += 3 * len(self.names) * self.has_kills
        return pieces_n + len(BROKERS) * ("broker" in self.parts)

    @property
    def one_job(self) -> str:
        """Name the job whose broker goes."""
        return f"{self.names[-1]}-{self.seeds[0]}"


def run(plan: Plan, work: Begins, folder: Path, show: Show) -> list[Claim]:
    """Run all parts, show a table of each, and say what they claim.

    Args:
        plan: What is run.
        work: Who does it.
        folder: Where the runs keep their things.
        show: Prints a table.
    """
    # the runs that others wait for come first, those that wait last
    wholes = _begin_unkilled(plan, work, folder)
    outages = _begin_outages(plan, work, folder)
    services = _begin_services(plan, work, folder)
    kills = {name: _begin_kills(plan, work, folder, name, whole) for name, whole in wholes.items()}
    claims: list[Claim] = []
    if plan.has_services:
        rows = [_ran(name, seed, running) for (name, seed), running in services.items()]
        claims += _tell_services(plan, rows, show)
    if plan.has_kills:
        found = {name: _ended(plan, name, *runs) for name, runs in kills.items()}
        show(kills_table(found))
        claims += [claim for name, one in found.items() for claim in kills_claims(name, one)]
    if outages:
        held = {name: outcome(running) for name, running in outages.items()}
        show(outages_table(plan.one_job, held))
        claims += [claim for name, one in held.items() for claim in outage_claims(name, one)]
    return claims


# --- services ------------------------------------------------------------------------------


def _begin_services(plan: Plan, work: Begins, folder: Path) -> dict[tuple[str, int], Future[Ran]]:
    is_replayed = "replay" in plan.parts
    return {
        (name, seed): work.begin(
            f"{name} {seed}", run_service, name, seed, folder, is_replayed=is_replayed
        )
        for name in plan.names
        for seed in (plan.seeds if plan.has_services else ())
    }


def _ran(name: str, seed: int, running: Future[Ran]) -> Ran:
    ran = outcome(running)
    return Ran(name, seed, ran) if isinstance(ran, str) else ran


def _tell_services(plan: Plan, rows: Sequence[Ran], show: Show) -> list[Claim]:
    claims: list[Claim] = []
    if "services" in plan.parts:
        for name in plan.names:
            of_it = [row for row in rows if row.scenario == name]
            show(services_table(name, of_it))
            claims.append(services_claim(name, of_it))
    if "replay" in plan.parts:
        show(replays_table(rows))
        claims += replays_claims(rows)
    return claims


# --- kills ---------------------------------------------------------------------------------

Runs = tuple[Survived | str, Future[Survived] | None, Future[Survived] | None]


def _begin_unkilled(plan: Plan, work: Begins, folder: Path) -> dict[str, Future[Survived]]:
    seed = plan.seeds[0]
    return {
        f"{name}-{seed}": work.begin(
            f"{name} {seed}, no kill", unkilled, name, seed, folder / f"{name}-{seed}"
        )
        for name in (plan.names if plan.has_kills else ())
    }


def _begin_kills(
    plan: Plan, work: Begins, folder: Path, name: str, running: Future[Survived]
) -> Runs:
    """Kill at moments all over the job: how long it lasts, the run without kills tells."""
    whole = outcome(running)
    if isinstance(whole, str):
        return whole, None, None
    scenario, seed = name.rpartition("-")[0], plan.seeds[0]
    kills_s, own = moments(name, plan.kills_n, whole.lasted_s), folder / name
    title = f"{scenario} {seed}, killed, world"
    return (
        whole,
        work.begin(f"{title} set back", killed_and_set_back, scenario, seed, own, kills_s),
        work.begin(f"{title} runs on", killed_while_it_runs_on, scenario, seed, own, kills_s),
    )


def _ended(
    plan: Plan,
    name: str,
    whole: Survived | str,
    back: Future[Survived] | None,
    on: Future[Survived] | None,
) -> Tried | str:
    if back is None or on is None:
        return str(whole)
    ended_back, ended_on = outcome(back), outcome(on)
    return tried(name, plan.kills_n, whole, ended_back, ended_on)


# --- broker --------------------------------------------------------------------------------


def _begin_outages(plan: Plan, work: Begins, folder: Path) -> dict[str, Future[Outage | str]]:
    scenario, seed = plan.names[-1], plan.seeds[0]
    return {
        name: work.begin(
            f"{scenario} {seed}, {name} gone", outlive, name, scenario, seed, folder / name
        )
        for name in (BROKERS if "broker" in plan.parts else ())
    }
