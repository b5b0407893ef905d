"""Each claim holds with what is good, and is a NO with any one thing that is not."""

from typing import Any

import pytest
from tests.simulation.soak.made_up import (
    SAME,
    answering,
    judged,
    outage,
    ran,
    survived,
    tried,
    unharmed,
)

from drainscale_sim.soak.kills import Tried
from drainscale_sim.soak.kills_told import kills_claims
from drainscale_sim.soak.outage import NO_MOSQUITTO, Outage
from drainscale_sim.soak.outage_told import outage_claims
from drainscale_sim.soak.replays import Replayed
from drainscale_sim.soak.services import Ran, replays_claims, services_claim
from drainscale_sim.soak.summary import Claim


def failing(claims: list[Claim]) -> list[str]:
    """The ends of the claims that do not hold."""
    return [one.what.rpartition(": ")[2] for one in claims if not one.holds]


def wrong(seed: int) -> Ran:
    return ran("standpipe", seed, judged=judged("wrong", excess_mL=61.0))


@pytest.mark.parametrize(("wrong_n", "holds"), [(0, True), (2, True), (3, False)])
def test_eighteen_of_twenty_services_have_to_be_sealed_right(wrong_n: int, holds: bool) -> None:
    rows = [wrong(n) if n < wrong_n else ran("standpipe", n) for n in range(20)]
    claim = services_claim("standpipe", rows)
    assert (claim.measured, claim.needed) == (f"{20 - wrong_n} of 20", "18 of 20")
    assert claim.holds is holds


@pytest.mark.parametrize(("n", "least"), [(1, 1), (2, 2), (9, 9), (10, 9), (70, 63)])
def test_nine_in_ten_of_another_number_is_rounded_up(n: int, least: int) -> None:
    claim = services_claim("standpipe", [ran("standpipe", seed) for seed in range(n)])
    assert claim.needed == f"{least} of {n}"


def test_a_service_that_came_to_nothing_is_not_right() -> None:
    assert not services_claim("standpipe", [ran("standpipe", 1, judged="no order came")]).holds


@pytest.mark.parametrize(
    ("replayed", "failed"),
    [
        (SAME, []),
        (Replayed(False, 50_000, 1200, 0.4), ["the same bytes"]),
        (Replayed(False, 50_000, 1200, 1.4), ["the same bytes", "all times"]),
        (Replayed(True, 50_000, 1200, 0.0, "a warning"), ["the same bytes"]),
        ("SpoolError: no job", ["the same bytes", "all times"]),
        (None, ["the same bytes", "all times"]),
    ],
)
def test_one_replay_that_differs_is_a_no(
    replayed: Replayed | str | None, failed: list[str]
) -> None:
    rows = [ran("standpipe", 1), ran("standpipe", 2, replayed=replayed)]
    assert failing(replays_claims(rows)) == failed


def test_no_replay_at_all_is_a_no() -> None:
    assert failing(replays_claims([])) == ["the same bytes"]


def off(key: str, told_L: float | None) -> dict[str, Any]:
    return {key: {**survived().answer[key], "volume_L": told_L}}


@pytest.mark.parametrize(
    ("spoiled", "failed"),
    [
        ({}, []),
        ({"back": answering(unharmed(), net=1)}, ["the same bytes"]),
        ({"back": survived((100.0,), answer=unharmed().answer)}, ["the same bytes"]),
        ({"on": answering(survived(), **off("drained", 2.011))}, ["truth within U"]),
        ({"on": answering(survived(), **off("spill", 1.989))}, ["truth within U"]),
        ({"on": answering(survived(), gaps=[[99.5, 106.0]])}, ["gaps told"]),
        ({"on": survived((100.0,))}, ["gaps told"]),
        ({"on": survived(is_done=False)}, ["job done"]),
    ],
)
def test_one_thing_that_a_kill_spoils_is_a_no(spoiled: dict[str, Any], failed: list[str]) -> None:
    assert failing(kills_claims("standpipe-1", tried(**spoiled))) == failed


def test_a_figure_that_is_withheld_claims_nothing_and_is_told() -> None:
    found = tried(on=answering(survived(), **off("spill", None)))
    (claim,) = (one for one in kills_claims("standpipe-1", found) if "within U" in one.what)
    assert claim.holds
    assert claim.measured == "0.50 U at most, 1 withheld"


def test_an_answer_that_withholds_all_is_a_no() -> None:
    nothing = {"volume_L": None, "added_volume_20C_L": None, "U_volume_L": None}
    on = answering(survived(), drained=nothing, refill=nothing, spill=nothing)
    assert failing(kills_claims("standpipe-1", tried(on=on))) == ["truth within U"]


def test_kills_that_could_not_be_run_are_a_no() -> None:
    found: Tried | str = "RuntimeError: the agent ended with 3"
    assert [one.holds for one in kills_claims("standpipe-1", found)] == [False]


@pytest.mark.parametrize(
    ("spoiled", "failed"),
    [
        ({}, []),
        ({"missing_n": 1}, ["nothing lost"]),
        ({"back_s": 849.9}, ["nothing lost"]),  # it was not gone as long as is claimed
        ({"while_gone_n": 201}, ["nothing lost"]),  # nor gone at all
        ({"twice_n": 1}, ["nothing twice"]),
        ({"strange_n": 1}, ["nothing twice"]),
        ({"failures": ("two messages of number 7",)}, ["nothing twice"]),
        ({"gaps_n": 1}, ["stored answers as live, no gap"]),
        ({"is_same": False}, ["stored answers as live, no gap"]),
        ({"is_done": False}, ["stored answers as live, no gap"]),
    ],
)
def test_one_thing_that_an_outage_costs_is_a_no(spoiled: dict[str, Any], failed: list[str]) -> None:
    assert failing(outage_claims("mosquitto", outage(**spoiled))) == failed


def test_a_broker_that_is_not_there_is_a_no_and_says_so() -> None:
    found: Outage | str = NO_MOSQUITTO
    (claim,) = outage_claims("mosquitto", found)
    assert (claim.measured, claim.holds) == ("not run: no mosquitto", False)
