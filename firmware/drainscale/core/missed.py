"""What nobody saw: the bench stood still while a stage ran, and a hand may have been there."""

from dataclasses import dataclass
from math import expm1, hypot, log

from drainscale.core.weighing import Unweighed
from drainscale.estimation.flow import Slope
from drainscale.estimation.levels import Bin

MISSED_SHARE = 0.05  # of what ran while nothing was recorded, as standard uncertainty
# ... where the reading goes on where the flow alone brought it: a container that is moved is off
# the stream for a second or more (common practice, no source), and that much would lack
UNMOVED_S = 0.4
UNMOVED_KG = 0.002
UNMOVED_SHARE = 0.005
MISSED_KNOWN_S = 3.0  # of readings after it, to know the flow there


@dataclass(frozen=True, slots=True)
class Missed:
    """A stretch of which nothing was recorded, while a stage ran."""

    unweighed: Unweighed
    t1: float
    before: Bin
    flow_kg_per_s: float

    def went_on(self, one: Bin, since: Slope) -> bool:
        """Whether the reading stands where the flow alone, falling evenly, has brought it.

        Args:
            one: A reading after it.
            since: The flow from its end to that reading.
        """
        before, after = self.flow_kg_per_s, since.kg_per_s
        dt = self.t1 - self.before.t
        if not 0.0 < after < before:
            ran_kg = 0.5 * (before + after) * dt
        else:  # exponentially
            rate = log(before / after) / (since.t_mid - self.before.t)
            ran_kg = before * -expm1(-rate * dt) / rate
        came_kg = one.kg - since.kg_per_s * (one.t - self.t1) - self.before.kg
        slack_kg = UNMOVED_KG + 4.0 * hypot(one.sigma_kg, self.before.sigma_kg)
        return abs(ran_kg - came_kg) <= slack_kg + UNMOVED_S * max(before, 0.0)
