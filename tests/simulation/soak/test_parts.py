"""The parts with made-up results: what is run, what is shown, and what comes of one NO."""

import io
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import replace
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

import pytest
from rich.console import Console
from rich.table import Table
from tests.simulation.soak.made_up import judged, outage, ran, survived, unharmed

from drainscale_sim.soak.kills import killed_and_set_back, killed_while_it_runs_on, unkilled
from drainscale_sim.soak.outage import NO_MOSQUITTO, outlive
from drainscale_sim.soak.parts import PARTS, Plan, run
from drainscale_sim.soak.services import run_service
from drainscale_sim.soak.summary import FILE_WIDTH, Claim, status_of

P = ParamSpec("P")
T = TypeVar("T")
PLAN = Plan(frozenset(PARTS), ("standpipe", "check-plug"), range(1, 3), kills_n=2)
ALL = [
    "unkilled", "unkilled", "outlive", "outlive", "run_service", "run_service", "run_service",
    "run_service", "killed_and_set_back", "killed_while_it_runs_on", "killed_and_set_back",
    "killed_while_it_runs_on",
]  # fmt: skip


class MadeUp:
    """Has no work done but gives what it would give; what is an exception is raised."""

    def __init__(self, spoiled: dict[Callable[..., Any], Any]) -> None:
        self._results: dict[Callable[..., Any], Any] = {
            unkilled: survived((), answer=unharmed().answer),
            killed_and_set_back: unharmed(),
            killed_while_it_runs_on: survived(),
            outlive: outage(),
            run_service: None,
            **spoiled,
        }
        self.begun: list[str] = []

    def begin(
        self, title: str, piece: Callable[P, T], *args: P.args, **_named: P.kwargs
    ) -> Future[T]:
        assert title
        self.begun.append(piece.__name__)
        result = self._results[piece]
        if piece is run_service and result is None:
            result = ran(str(args[0]), int(str(args[1])))
        done: Future[T] = Future()
        if isinstance(result, Exception):
            done.set_exception(result)
        else:
            done.set_result(result)
        return done


def soaked(plan: Plan = PLAN, **spoiled: Any) -> tuple[list[Claim], str, list[str]]:
    """The claims, what a file would hold, and what was begun."""
    file = io.StringIO()
    work = MadeUp({globals()[name]: result for name, result in spoiled.items()})
    claims = run(plan, work, Path("nowhere"), Console(file=file, width=FILE_WIDTH).print)
    return claims, file.getvalue(), work.begun


def test_all_that_is_good_is_status_0() -> None:
    claims, shown, begun = soaked()
    assert status_of(claims) == 0
    assert len(claims) == 2 + 2 + 2 * 4 + 2 * 3
    assert "NO" not in shown
    assert begun == ALL  # those that others wait for first
    assert len(begun) == PLAN.pieces_n


@pytest.mark.parametrize(
    "spoiled",
    [
        {"run_service": ran("standpipe", 1, judged=judged("x", verdict="overran"))},
        {"run_service": ran("standpipe", 1, judged="the level plug was never opened")},
        {"run_service": ran("standpipe", 1, replayed="SpoolError: no job")},
        {"run_service": RuntimeError("no order came")},
        {"unkilled": RuntimeError("the agent ended with 3")},
        {"killed_and_set_back": survived()},
        {"killed_and_set_back": RuntimeError("the agent ended with 3")},
        {"killed_while_it_runs_on": survived(is_done=False)},
        {"killed_while_it_runs_on": OSError("no world")},
        {"outlive": outage(missing_n=1)},
        {"outlive": NO_MOSQUITTO},
        {"outlive": RuntimeError("the broker ended at once")},
    ],
)
def test_a_no_in_any_part_is_status_1_and_is_seen_in_its_table(spoiled: dict[str, Any]) -> None:
    claims, shown, _ = soaked(**spoiled)
    assert status_of(claims) == 1
    assert "NO" in shown


def test_why_something_came_to_nothing_is_shown() -> None:
    claims, shown, _ = soaked(killed_while_it_runs_on=OSError("no world"), outlive=NO_MOSQUITTO)
    assert "OSError: no world" in shown
    assert NO_MOSQUITTO in shown
    assert {"OSError: no world", NO_MOSQUITTO} <= {one.measured for one in claims}


def test_a_verdict_is_whole_in_a_file() -> None:
    _, shown, _ = soaked()
    rows = [line.split()[:2] for line in shown.splitlines() if "closed-in-window" in line]
    assert rows[:2] == [["1", "closed-in-window"], ["2", "closed-in-window"]]
    assert "…" not in shown


@pytest.mark.parametrize(
    ("parts", "begun", "claims_n"),
    [
        ({"services"}, ["run_service"] * 4, 2),
        ({"replay"}, ["run_service"] * 4, 2),
        ({"services", "replay"}, ["run_service"] * 4, 4),
        ({"kills"}, ALL[:2] + ALL[8:], 8),
        ({"broker"}, ["outlive"] * 2, 6),
    ],
)
def test_a_part_runs_by_itself(parts: set[str], begun: list[str], claims_n: int) -> None:
    plan = replace(PLAN, parts=frozenset(parts))
    claims, _, ran_ = soaked(plan)
    assert (ran_, len(claims)) == (begun, claims_n)
    assert plan.pieces_n == len(begun)


def test_no_kills_means_no_claim_of_them() -> None:
    plan = replace(PLAN, kills_n=0)
    claims, _, begun = soaked(plan)
    assert len(begun) == plan.pieces_n == 6
    assert not any("killed" in one.what for one in claims)


def test_tables_come_in_the_order_of_the_parts() -> None:
    tables: list[Table] = []
    run(PLAN, MadeUp({}), Path("nowhere"), tables.append)
    assert [str(one.title).split()[0] for one in tables] == [
        "standpipe:", "check-plug:", "live", "kill", "broker",
    ]  # fmt: skip
