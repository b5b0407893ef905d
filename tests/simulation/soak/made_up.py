"""Made-up results of a soak, all of them good, to be spoiled one by one."""

from typing import Any

from drainscale_sim.closed_loop.judging import Judged
from drainscale_sim.closed_loop.processes import Kill
from drainscale_sim.soak.kills import DOWN_S, Survived, Tried
from drainscale_sim.soak.outage import Outage
from drainscale_sim.soak.replays import Replayed
from drainscale_sim.soak.services import Ran

KILLS_S = (100.0, 300.0)
SAME = Replayed(is_same=True, bytes_n=50_000, times_n=1200, apart_ms=0.0)


def judged(name: str, **other: Any) -> Judged:
    """A service that was sealed in its window, 40 mL above the rim."""
    usual: dict[str, Any] = {
        "name": name, "is_done": True, "verdict": "closed-in-window",
        "outcome": "closed-in-window", "shut_C": 41.0, "window_C": (35.0, 45.0),
        "excess_mL": 40.0, "thin_mL": 45.0, "drained_off_mL": 1.0, "added_off_g": 0.1,
        "spilled_off_g": 0.1, "attempts": 1, "took_s": 1500.0, "presses": 4,
    }  # fmt: skip
    return Judged(**{**usual, **other})


def ran(scenario: str, seed: int, **other: Any) -> Ran:
    """A service that is right, and whose replay is the same."""
    usual: dict[str, Any] = {"judged": judged(f"{scenario}-{seed}"), "replayed": SAME}
    return Ran(scenario, seed, **{**usual, **other})


def survived(kills_s: tuple[float, ...] = KILLS_S, **other: Any) -> Survived:
    """A job that lived through its kills and tells the gap of each, 5 mL off with U 10 mL."""
    true = {"volume_L": 2.0}
    told = {"volume_L": 2.005, "U_volume_L": 0.010}
    answer = {
        "drained": told,
        "refill": {"added_volume_20C_L": 2.605, "U_volume_L": 0.010},
        "spill": told,
        "level": {"verdict": "closed-in-window"},
        "gaps": [[t - 0.5, t + DOWN_S] for t in kills_s],
    }
    truth = {"drained": true, "refill": {"added_volume_20C_L": 2.6}, "spill": true}
    usual: dict[str, Any] = {
        "kills": [Kill(t, t - 0.5) for t in kills_s], "answer": answer, "truth": truth,
        "lasted_s": 1500.0, "is_done": True,
    }  # fmt: skip
    return Survived(**{**usual, **other})


def unharmed() -> Survived:
    """A job that was set back after each kill: it missed nothing."""
    run = survived()
    return survived(answer={**run.answer, "gaps": []})


def answering(run: Survived, **other: Any) -> Survived:
    """The same job, parts of its answer replaced."""
    return survived(kills=run.kills, answer={**run.answer, **other})


def tried(**other: Any) -> Tried:
    """A job that stands its two kills either way."""
    usual: dict[str, Any] = {
        "unkilled": survived((), answer=unharmed().answer), "back": unharmed(), "on": survived(),
    }  # fmt: skip
    return Tried("standpipe-1", len(KILLS_S), **{**usual, **other})


def outage(name: str = "mosquitto", **other: Any) -> Outage:
    """A broker that was gone for ten minutes, and it cost nothing."""
    usual: dict[str, Any] = {
        "broker": name, "went_s": 250.0, "back_s": 850.0, "before_n": 200, "while_gone_n": 200,
        "sent_n": 1000, "missing_n": 0, "strange_n": 0, "repeats_n": 3, "samples_n": 15_000,
        "twice_n": 0, "failures": (), "gaps_n": 0, "is_done": True, "is_same": True,
    }  # fmt: skip
    return Outage(**{**usual, **other})
