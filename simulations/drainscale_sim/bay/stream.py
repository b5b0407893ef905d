"""What falls from the outlet: it lands later, and pushes while it lands."""

from collections import deque
from math import sqrt

from drainscale_sim.bay.outflow import GRAVITY_M_PER_S2


class FallingStream:
    """Oil in the air between the outlet and the container.

    A scale under it reads what has landed, plus the rate of landing times its speed over g.
    Steady, that sums to what has left the outlet plus flow times *initial* speed over g: the
    height cancels (momentum balance).

    Args:
        fall_m: Height of the fall.
    """

    def __init__(self, fall_m: float) -> None:
        self.fall_m = fall_m
        self._air: deque[tuple[float, float, float]] = deque()  # lands at, mass, speed

    def leave(self, t: float, mass_kg: float, speed_m_per_s: float) -> None:
        """Let a mass leave the outlet at `t` with a downward speed."""
        landing = sqrt(speed_m_per_s**2 + 2.0 * GRAVITY_M_PER_S2 * self.fall_m)
        self._air.append((t + (landing - speed_m_per_s) / GRAVITY_M_PER_S2, mass_kg, landing))

    def land(self, t: float) -> tuple[float, float]:
        """Take what has landed by `t`.

        Returns:
            Mass, kg, and its momentum, kg m/s.
        """
        mass_kg = momentum = 0.0
        air = self._air
        while air and air[0][0] <= t:
            _, part, landing = air.popleft()
            mass_kg += part
            momentum += part * landing
        return mass_kg, momentum

    @property
    def in_flight_kg(self) -> float:
        """Mass in the air, kg."""
        return sum(part for _, part, _ in self._air)
