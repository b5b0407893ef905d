# SPDX-License-Identifier: Apache-2.0
"""Bending by formulas of the handbooks; N, mm, MPa.

A round plate that is clamped along a circle in its middle (the load cell's mount) and loaded along
another circle (the foot of a container). With the line load P / (2 pi r) the deflection is

    w(r) = P r^2 / (8 pi D) (ln(r/a) - 1) - C1 r^2 / 4 - C2 ln(r/a) + C3

and the constants follow from slope and deflection 0 at the clamp and no moment at the free edge.

A moment on the outer circle (a container that stands beside the mount) bends it by f(r) cos(theta)
with f = A r + B / r + C r^3 + D r ln r; the conditions are the same, and at the free edge the shear
is that of an edge load M cos(theta) / (pi a^2).

Source:
    S. Timoshenko and S. Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. (1959), articles 17
    and 62 and following, from memory; the tests compare with the coefficients of its table and with
    finite elements.
"""

import math
from dataclasses import dataclass

import numpy as np


def plate_stiffness_Nmm(youngs_MPa: float, thickness: float, poisson: float) -> float:
    """Bending stiffness of a plate, D = E t^3 / (12 (1 - nu^2)), N mm."""
    return float(youngs_MPa * thickness**3 / (12.0 * (1.0 - poisson**2)))


@dataclass(frozen=True)
class RingPlate:
    """A round plate clamped along its inner circle, free outside.

    Attributes:
        inner: Radius of the clamp, mm.
        outer: Radius of the free edge, mm, where the load stands.
        thickness: Thickness, mm.
        youngs_MPa: Young's modulus.
        poisson: Poisson's ratio.
    """

    inner: float
    outer: float
    thickness: float
    youngs_MPa: float
    poisson: float

    def _constants(self, load_N: float) -> tuple[float, float]:
        """C1 and C2 of the deflection, per the conditions for slope and moment."""
        d = plate_stiffness_Nmm(self.youngs_MPa, self.thickness, self.poisson)
        a, b, nu = self.outer, self.inner, self.poisson
        k = load_N / (8.0 * math.pi * d)
        # slope dw/dr = k r (2 ln(r/a) - 1) - C1 r / 2 - C2 / r is 0 at b;
        # moment, w'' + nu w'/r, is 0 at a
        slope_b = k * b * (2.0 * math.log(b / a) - 1.0)
        moment_a = k * (1.0 - nu)  # w'' = k (2 ln 1 + 1), nu w'/r = -nu k
        # two equations: C1 b/2 + C2/b = slope_b; C1 (1 + nu)/2 - C2 (1 - nu)/a^2 = moment_a
        det = -b / 2.0 * (1.0 - nu) / a**2 - (1.0 + nu) / (2.0 * b)
        c1 = (-slope_b * (1.0 - nu) / a**2 - moment_a / b) / det
        c2 = (b / 2.0 * moment_a - (1.0 + nu) / 2.0 * slope_b) / det
        return c1, c2

    def deflection(self, load_N: float) -> float:
        """How far the loaded edge goes down against the clamp, mm."""
        d = plate_stiffness_Nmm(self.youngs_MPa, self.thickness, self.poisson)
        k = load_N / (8.0 * math.pi * d)
        c1, c2 = self._constants(load_N)
        a, b = self.outer, self.inner

        def w(r: float) -> float:
            log = math.log(r / a)
            return k * r * r * (log - 1.0) - c1 * r * r / 4.0 - c2 * log

        return abs(w(a) - w(b))

    def stress_MPa(self, load_N: float) -> float:
        """Largest bending stress, radial, at the clamp: 6 M / t^2."""
        d = plate_stiffness_Nmm(self.youngs_MPa, self.thickness, self.poisson)
        k = load_N / (8.0 * math.pi * d)
        c1, c2 = self._constants(load_N)
        b = self.inner
        # the slope is 0 at the clamp, so the moment there is D w''
        curvature = k * (2.0 * math.log(b / self.outer) + 1.0) - c1 / 2.0 + c2 / b**2
        return abs(d * curvature) * 6.0 / self.thickness**2

    def _moment_terms(self, moment_Nmm: float) -> tuple[float, ...]:
        """A, B, C and D of the deflection under a moment, mm and its powers."""
        d = plate_stiffness_Nmm(self.youngs_MPa, self.thickness, self.poisson)
        a, b, nu = self.outer, self.inner, self.poisson
        log_b = math.log(b)
        flat = [b, 1.0 / b, b**3, b * log_b]
        level = [1.0, -1.0 / b**2, 3.0 * b**2, log_b + 1.0]
        # of each term: f'' + nu (f'/r - f/r^2)
        bending = [0.0, 2.0 * (1.0 - nu) / a**3, (6.0 + 2.0 * nu) * a, (1.0 + nu) / a]
        # of each term: the shear with the twist's part, over the plate's stiffness
        shear = [
            0.0,
            -2.0 * (1.0 - nu) / a**4,
            -8.0 + 2.0 * (1.0 - nu),
            2.0 / a**2 + (1.0 - nu) / a**2,
        ]
        edge = moment_Nmm / (math.pi * a**2 * d)
        rows = np.array([flat, level, bending, shear])
        return tuple(np.linalg.solve(rows, np.array([0.0, 0.0, 0.0, edge])).tolist())

    def moment_deflection(self, moment_Nmm: float) -> float:
        """How far the loaded edge goes down where a moment presses most, mm."""
        terms, a = self._moment_terms(moment_Nmm), self.outer
        parts = (a, 1.0 / a, a**3, a * math.log(a))
        return abs(sum(term * part for term, part in zip(terms, parts, strict=True)))

    def moment_stress_MPa(self, moment_Nmm: float) -> float:
        """Largest bending stress at the clamp under a moment."""
        d = plate_stiffness_Nmm(self.youngs_MPa, self.thickness, self.poisson)
        terms, b = self._moment_terms(moment_Nmm), self.inner
        # f and f' are 0 at the clamp, so the moment there is D f''
        parts = (0.0, 2.0 / b**3, 6.0 * b, 1.0 / b)
        curvature = sum(term * part for term, part in zip(terms, parts, strict=True))
        return abs(d * curvature) * 6.0 / self.thickness**2


def cantilever_deflection(load_N: float, length: float, ei_Nmm2: float) -> float:
    """A beam clamped at one end, loaded at the other: P L^3 / (3 E I), mm.

    Source:
        Any handbook of strength of materials, for example Timoshenko's, part I.
    """
    return load_N * length**3 / (3.0 * ei_Nmm2)
