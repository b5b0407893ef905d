"""Reduce a tally to one figure and say whether it keeps its limits."""

from dataclasses import dataclass
from math import fsum

from drainscale_sim.score.figures import Bound, Figure, How
from drainscale_sim.score.tally import Tally, quantile

QUANTILES: dict[How, float] = {"median": 0.5, "p5": 0.05, "p90": 0.9, "p95": 0.95, "max": 1.0}
ROUNDING = 1e-9  # 99.5 % counted is 99.5 %


@dataclass(frozen=True, slots=True)
class Graded:
    """A figure as measured; ``None`` where no case was judged."""

    figure: Figure
    value: float | None
    n: int
    keeps_must: bool | None
    keeps_aim: bool | None


def grade(figure: Figure, tally: Tally) -> Graded:
    """Measure one figure and hold it against its limits."""
    value, n = reduce(figure, tally), tally.cases(figure.key)
    return Graded(
        figure, value, n, keeps(figure, figure.must, value, n), keeps(figure, figure.aim, value, n)
    )


def reduce(figure: Figure, tally: Tally) -> float | None:
    """Return the figure's value in its unit, ``None`` without a case."""
    if figure.how == "share" or figure.how == "per recording":
        share = tally.share(figure.key)
        if share is None or figure.how == "per recording":
            return share
        return 100.0 * share
    values = tally.values.get(figure.key)
    if not values:
        return None
    return fsum(values) / len(values) if figure.how == "mean" else _quantile(figure.how, values)


def _quantile(how: How, values: list[float]) -> float:
    return quantile(values, QUANTILES[how])


def keeps(figure: Figure, bound: Bound | None, value: float | None, n: int) -> bool | None:
    """Tell whether a value keeps a limit; ``None``: nothing to tell it by."""
    if bound is None or value is None:
        return None
    if bound.low is not None and value < bound.low - ROUNDING:
        return False
    if bound.high is None or value <= bound.high + ROUNDING:
        return True
    return not can_resolve(figure, bound, n)


def can_resolve(figure: Figure, bound: Bound, n: int) -> bool:
    """Tell whether so few cases can show a share to be too high for a two-sided limit.

    With 12 cases the next share below 100 % is 92 %: "not above 99.5 %" then asks for a miss
    that honest intervals need not have.
    """
    if figure.how != "share" or bound.low is None or bound.high is None:
        return True
    return n * (1.0 - bound.high / 100.0) >= 1.0 - ROUNDING
