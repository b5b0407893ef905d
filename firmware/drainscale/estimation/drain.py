"""The tail of a draining pan: from a stream to drips, and what is still to come.

Once the bulk has run out, oil creeps down the walls: a film of thickness ~ (nu z / g t)^1/2
holds a volume ~ t^-1/2, so the flow falls as t^-3/2 (Jeffreys, Proc. Camb. Phil. Soc. 26
(1930) 204). Between stream and film it falls faster, and a film that was there before the
start makes it fall slower. So the flow since the start of the stage is taken as a power of
time, locally, and the power is inferred with a prior around the film's:

    q(t) = q1 ((t - t0) / (t1 - t0))^-p,      level = a - q1 (t1 - t0) / (p - 1) (..)^(1 - p)
"""

from dataclasses import dataclass
from math import exp, log, sqrt

from drainscale.estimation.flow import FlowTracker, Slope
from drainscale.estimation.levels import Bin, Levels

POWERS = (0.8, 1.1, 1.4, 1.7, 2.0, 2.4, 2.9, 3.5)
POWER_MEAN = 1.6
POWER_SD = 0.35
WINDOW_SHARE = 0.4  # of the time since the start: the law is local
MIN_WINDOW_S = 6.0
MAX_WINDOW_S = 150.0
WANDER_KG = 0.0001  # slow wander of the reading within a window


@dataclass(frozen=True, slots=True)
class Tail:
    """The flow at ``t``, with the power of time it falls with."""

    t: float
    kg_per_s: float
    u_kg_per_s: float
    power: float
    since_s: float  # seconds since the stage began

    def falls_below_s(self, limit_kg_per_s: float) -> float:
        """When the flow falls (or fell) below a limit, on the law's own time axis."""
        if self.kg_per_s <= 0.0:
            return self.t
        t0 = self.t - self.since_s
        stretch: float = (self.kg_per_s / limit_kg_per_s) ** (1.0 / self.power)
        return t0 + self.since_s * stretch

    def still_to_come_kg(self) -> float:
        """What will still run out if one waits for ever (as far as the law holds)."""
        if self.power <= 1.05:
            return self.kg_per_s * self.since_s / 0.05
        return self.kg_per_s * self.since_s / (self.power - 1.0)


def fit_tail(flow: FlowTracker, started_s: float, until_s: float | None = None) -> Tail | None:
    """Fit the law to the latest readings of a stage.

    Args:
        flow: The readings.
        started_s: When the stage's flow began.
        until_s: Use nothing later (the latest reading by default).

    Returns:
        The flow at the last reading used; ``None`` with too few of them.
    """
    last = flow.last
    if last is None:
        return None
    until = last.t if until_s is None else until_s
    tau = until - started_s
    window_s = min(max(WINDOW_SHARE * tau, MIN_WINDOW_S), MAX_WINDOW_S)
    if tau < 1.2 * MIN_WINDOW_S:
        return None
    return fit_power(flow.since(until - window_s, until), started_s)


def fit_power(bins: list[Bin], started_s: float) -> Tail | None:
    """Fit the power law to some bins; the flow is given at the last one of them."""
    if len(bins) < 6:
        return None
    t1 = bins[-1].t
    tau = t1 - started_s
    levels = Levels(bins)
    shares = [max(one.t - started_s, 1.0) / tau for one in bins]
    # with this abscissa the level is a straight line whose slope is the flow at the end
    fits = [
        (p, *levels.straight([tau * (1.0 - share ** (1.0 - p)) / (p - 1.0) for share in shares]))
        for p in POWERS
    ]
    best = max(explained for _, _, _, explained in fits)
    # neighbouring readings share the reading's wander: not every bin counts as a new one
    thin = max(len(bins) / 5.0, 1.0)
    weights = [
        exp(-0.5 * ((best - explained) / thin + ((p - POWER_MEAN) / POWER_SD) ** 2))
        for p, _, _, explained in fits
    ]
    total = sum(weights)
    q = sum(w * fit[1] for w, fit in zip(weights, fits, strict=True)) / total
    var = sum(w * (f[2] ** 2 + (f[1] - q) ** 2) for w, f in zip(weights, fits, strict=True)) / total
    power = sum(w * fit[0] for w, fit in zip(weights, fits, strict=True)) / total
    wander = WANDER_KG / max(t1 - bins[0].t, 1.0)
    return Tail(t1, q, sqrt(var + wander**2), power, tau)


def decayed_flow(slope: Slope | None, t: float, started_s: float) -> float:
    """A flow measured earlier, brought to ``t`` by the film's law; 0 where none is known."""
    if slope is None or slope.kg_per_s <= 0.0:
        return 0.0
    since = max(slope.t_mid - started_s, 5.0)
    return slope.kg_per_s * exp(-1.5 * log(max(t - started_s, since) / since))
