"""When a flow onto the platform begins, and what stood there before it.

A flow shows as a rise that is sure against the reading's noise, goes on until now, and adds
up to more than a touch leaves behind. A strong one is seen within two seconds, a weak one
within half a minute.
"""

from dataclasses import dataclass
from math import inf, sqrt

from drainscale.estimation.flow import FlowTracker, common_slope
from drainscale.estimation.levels import Bin

WINDOWS_S = (2.0, 4.0, 10.0, 30.0)
SIGMAS = 6.0
MIN_GAIN_KG = 0.003
DRIFT_KG_PER_S = 0.00002  # how fast a resting reading may wander
STILL_RISING = 0.35  # slope of the last third against that of the whole window


@dataclass(frozen=True, slots=True)
class Onset:
    """A flow began at ``t``; before it the scale stood at ``tare_kg``."""

    t: float
    known_t: float
    tare_kg: float
    flow_kg_per_s: float


def find_onset(
    flow: FlowTracker, before_kg_per_s: float = 0.0, since_t: float = -inf
) -> Onset | None:
    """Look for a flow that has begun lately.

    Args:
        flow: The readings.
        before_kg_per_s: What runs already (the tail of the last stage); the new flow has to
            stand out against it.
        since_t: Look at nothing earlier: since then this load stands there.
    """
    last = flow.last
    if last is None:
        return None
    for window_s in WINDOWS_S:
        bins = flow.since(max(last.t - window_s, since_t))
        if len(bins) < 4:
            continue
        if _rises(flow, bins, window_s, before_kg_per_s):
            return _date(flow, bins, before_kg_per_s, since_t)
    return None


def _rises(flow: FlowTracker, bins: list[Bin], window_s: float, before: float) -> bool:
    t1 = bins[-1].t
    whole = common_slope(bins)
    if whole is None:
        return False
    extra = whole.kg_per_s - before
    if extra <= SIGMAS * whole.u_kg_per_s or extra * (t1 - bins[0].t) < MIN_GAIN_KG:
        return False
    if before > 0.0 and whole.kg_per_s < 3.0 * before + 0.0004:
        return False
    lately = flow.slope(t1 - max(window_s / 3.0, 1.1))
    return lately is not None and lately.kg_per_s - before > STILL_RISING * extra


def _date(flow: FlowTracker, bins: list[Bin], before: float, since_t: float) -> Onset | None:
    """Go back from the rise to where it left the level before."""
    t1 = bins[-1].t
    base = _baseline(flow, bins, before, since_t)
    if base is None:
        return None
    level, sigma, t_level = base
    # the first bin from which on all lie above the level
    off = max(5.0 * sigma, 0.0008)
    first: Bin | None = None
    for one in reversed(flow.since(t_level)):
        if one.kg - (level + before * (one.t - t_level)) <= off:
            break
        first = one
    if first is None:
        return None
    early = flow.slope(first.t, first.t + 2.1) or flow.slope(first.t)
    if early is None or early.kg_per_s <= before:
        return None
    rise = first.kg - (level + before * (first.t - t_level))
    t0 = first.t - rise / (early.kg_per_s - before)
    t0 = min(max(t0, t_level), first.t)
    return Onset(t0, t1, level + before * (t0 - t_level), early.kg_per_s)


def _baseline(
    flow: FlowTracker, bins: list[Bin], before: float, since_t: float
) -> tuple[float, float, float] | None:
    """Level before the rise: value, standard deviation of a bin, and its instant."""
    start = bins[0].t
    # walk back over what already rises: until three bins in a row lie level
    older = flow.since(max(start - 40.0, since_t), start + 0.01)
    if len(older) < 3:
        return None
    end = len(older)
    while end > 4 and _leans(older[end - 4 : end], before):
        end -= 1
    level = older[:end]
    t_level = level[-1].t
    # recent readings count most, but a shaken one less than a quiet one of half a minute ago
    weights = [1.0 / (one.sigma_kg**2 + (DRIFT_KG_PER_S * (t_level - one.t)) ** 2) for one in level]
    total = sum(weights)
    brought = (one.kg + before * (t_level - one.t) for one in level)
    mean = sum(w * kg for w, kg in zip(weights, brought, strict=True)) / total
    return mean, min(one.sigma_kg for one in level), t_level


def _leans(bins: list[Bin], before: float) -> bool:
    rise = bins[-1].kg - bins[0].kg - before * (bins[-1].t - bins[0].t)
    return rise > 4.0 * sqrt(2.0) * max(bins[0].sigma_kg, bins[-1].sigma_kg) + 0.0002
