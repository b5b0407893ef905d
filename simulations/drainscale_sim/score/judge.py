"""Compare one answer with its truth, in everything that the figures ask."""

from drainscale_sim.score.answer import Answer
from drainscale_sim.score.judge_cues import judge_cues
from drainscale_sim.score.judge_forecasts import judge_forecasts
from drainscale_sim.score.judge_plug import judge_plug
from drainscale_sim.score.judge_quantities import judge_quantities
from drainscale_sim.score.judge_sensors import judge_sensors
from drainscale_sim.score.tally import Tally
from drainscale_sim.score.truth import Truth


def judge(answer: Answer, truth: Truth) -> Tally:
    """Return what the comparison of one recording gives."""
    tally = Tally()
    judge_quantities(answer, truth, tally)
    judge_forecasts(answer, truth, tally)
    judge_plug(answer, truth, tally)
    judge_cues(answer, truth, tally)
    judge_sensors(answer, truth, tally)
    return tally
