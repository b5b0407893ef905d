"""Hold a service in closed loop against what truly happened: was the level set?

The level is right near the rim: of a check plug that is the lower edge of its hole. What still
stands above it when the plug is shut comes of the job's close limit, more of it over a hole in a
wall than over the round rim of a pipe; how much that limit makes by itself is given beside it.
"""

from dataclasses import dataclass
from typing import Any

from drainscale_sim.bay.outflow import down_pipe_m3_per_s, side_hole_m3_per_s
from drainscale_sim.world.truth import truth_of
from drainscale_sim.world.world import World

Json = dict[str, Any]

LEVEL_OFF_mL = 60.0
HIGHEST_HEAD_m = 0.02
NU_m2_per_s = 30e-6  # of oil in the window; at a thin stream the pipe's bore does not matter


@dataclass(frozen=True)
class Judged:
    """One service."""

    name: str
    is_done: bool
    verdict: str
    outcome: str  # what the world says of the attempt
    shut_C: float
    window_C: tuple[float, float]
    excess_mL: float  # true volume that would still run over the rim when the plug was shut
    thin_mL: float  # what stands above it while the spill is at the job's limit
    drained_off_mL: float
    added_off_g: float
    spilled_off_g: float
    attempts: int
    took_s: float
    presses: int  # of the foot switch

    @property
    def is_sealed_right(self) -> bool:
        """Closed by the kit's word, in the window, level near the rim."""
        low_C, high_C = self.window_C
        return (
            self.is_done
            and self.verdict == "closed-in-window"
            and low_C <= self.shut_C <= high_C
            and abs(self.excess_mL) <= LEVEL_OFF_mL
        )


def world_truth(world: World, name: str) -> Json:
    """Write the truth of a world in this process.

    Raises:
        ValueError: The level plug was never opened and shut.
    """
    return truth_of(name, world.bay, world.grid, world.clock.t, [])


def judge(answer: Json, truth: Json, *, is_done: bool, presses: int) -> Judged:
    """Compare.

    Args:
        answer: The kit's.
        truth: The world's, see ``truth_of``.
        is_done: Whether the kit came to the end of the procedure.
        presses: How often the foot switch was pressed.
    """
    times, grid = truth["times"], truth["grid"]
    last = int(times["plug_shut_s"])
    excess = [one for one in grid["excess_mL"][: last + 1] if one is not None]
    low_C, high_C = truth["limits"]["window_C"]
    return Judged(
        name=truth["name"],
        is_done=is_done,
        verdict=str(answer["level"]["verdict"]),
        outcome=truth["outcome"],
        shut_C=grid["fluid_C"][last],
        window_C=(low_C, high_C),
        excess_mL=excess[-1] if excess else float("nan"),
        thin_mL=_thin_mL(truth),
        drained_off_mL=1000.0 * _off(answer["drained"]["volume_L"], truth["drained"]["volume_L"]),
        added_off_g=1000.0
        * _off(answer["refill"]["added_mass_kg"], truth["refill"]["added_mass_kg"]),
        spilled_off_g=1000.0 * _off(answer["spill"]["mass_kg"], truth["spill"]["mass_kg"]),
        attempts=sum(1 for event in answer["events"] if event["event"] == "open-plug"),
        took_s=truth["duration_s"],
        presses=presses,
    )


def _thin_mL(truth: Json) -> float:
    """What stands above the rim while the spill is at the limit, by the world's own law."""
    unit, limit = truth["parameters"]["vehicle"], truth["limits"]["close_flow_mL_per_min"]
    low_m, high_m = 0.0, HIGHEST_HEAD_m
    for _ in range(40):
        head_m = 0.5 * (low_m + high_m)
        if unit["has_standpipe"]:
            flow = down_pipe_m3_per_s(unit["pipe_bore_m"], unit["pipe_m"], head_m, NU_m2_per_s)
        else:
            flow = side_hole_m3_per_s(unit["pipe_bore_m"], head_m)
        low_m, high_m = (head_m, high_m) if flow * 60e6 < limit else (low_m, head_m)
    return float(high_m * unit["area_m2"] * 1e6)


def _off(told: float | None, true: float) -> float:
    return float("nan") if told is None else told - true
