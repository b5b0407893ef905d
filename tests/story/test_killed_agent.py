"""An agent that is killed in mid-job: a real process, a real SIGKILL, its world another process."""

from pathlib import Path

import pytest

from drainscale_sim.closed_loop.agent import ANSWER
from drainscale_sim.closed_loop.processes import Run
from drainscale_sim.soak.kills import Tried, figures, gaps_untold, kill_and_compare

SCENARIO, SEED, KILLS = "check-plug", 1, 3  # `drainscale soak --kills 20` kills more often


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("kills")


@pytest.fixture(scope="module")
def tried(folder: Path) -> Tried:
    """One job three times: without kills, set back after each, running on after each."""
    return kill_and_compare(SCENARIO, SEED, KILLS, folder)


def test_what_is_killed_and_missed_nothing_answers_the_same_to_the_last_byte(tried: Tried) -> None:
    assert len(tried.back.kills) == KILLS
    assert all(0.0 < kill.kept_s <= kill.at_s for kill in tried.back.kills)
    assert tried.back.answer["gaps"] == []
    assert tried.is_same, tried.back.kills


def test_what_is_killed_while_the_world_runs_on_tells_each_gap(tried: Tried) -> None:
    assert len(tried.on.kills) == KILLS
    assert tried.on.is_done
    assert gaps_untold(tried.on) == []
    assert len(tried.on.answer["gaps"]) == KILLS


def test_what_is_killed_while_the_world_runs_on_still_holds_the_truth(tried: Tried) -> None:
    for missed in figures(tried.on):
        assert missed.off_mL is not None
        assert missed.is_within, (missed, tried.on.kills)
    assert tried.on.answer["level"]["verdict"] == "closed-in-window"


def test_what_an_agent_closed_and_could_not_tell_any_more_is_told_for_it(
    tried: Tried, folder: Path
) -> None:
    run = Run(SCENARIO, SEED, next(folder.rglob(f"on/{ANSWER}")).parent)
    before = run.told()
    assert before.answer == tried.on.answer
    (run.folder / ANSWER).unlink()
    run.tell_for(before.job)
    assert run.told() == before
    with pytest.raises(RuntimeError, match="before it told"):
        run.tell_for("j-no-such-job")
