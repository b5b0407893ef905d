# SPDX-License-Identifier: Apache-2.0
"""Bending of a rectangular plate by finite elements; N, mm, MPa.

Rectangular elements with twelve terms, three freedoms a corner: deflection and its two slopes.
They converge for thin plates from below in stiffness; the tests hold them against the handbook's
plates.

Source:
    O. C. Zienkiewicz, The Finite Element Method, plate bending, rectangle with corner nodes (from
    memory); coefficients of plates: Timoshenko and Woinowsky-Krieger.
"""

from collections.abc import Sequence
from itertools import product

import numpy as np
import numpy.typing as npt

from mechanical.bending import plate_stiffness_Nmm

Vector = npt.NDArray[np.float64]
_STIFF = 1e8  # times the plate's own stiffness: what is held moves by next to nothing
_TERMS = (
    *((0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2)),
    *((3, 0), (2, 1), (1, 2), (0, 3), (3, 1), (1, 3)),
)
_GAUSS = ((-(0.6**0.5), 5.0 / 9.0), (0.0, 8.0 / 9.0), (0.6**0.5, 5.0 / 9.0))


def _element(half: float, rigidity: Vector) -> Vector:
    """Stiffness of a square element of side 2 ``half``."""

    def row(x: float, y: float, dx: int, dy: int) -> list[float]:
        """The derivative of each term, ``dx`` times by x and ``dy`` times by y."""
        values = []
        for i, j in _TERMS:
            factor = float(np.prod(range(i - dx + 1, i + 1)) * np.prod(range(j - dy + 1, j + 1)))
            values.append(factor * x ** max(i - dx, 0) * y ** max(j - dy, 0))
        return values

    corners = ((-half, -half), (half, -half), (half, half), (-half, half))
    freedoms = [row(x, y, *d) for x, y in corners for d in ((0, 0), (1, 0), (0, 1))]
    inverse = np.linalg.inv(np.array(freedoms))
    total = np.zeros((12, 12))
    for (gx, wx), (gy, wy) in product(_GAUSS, repeat=2):
        x, y = half * gx, half * gy
        twist = [2.0 * value for value in row(x, y, 1, 1)]
        bend = np.array([row(x, y, 2, 0), row(x, y, 0, 2), twist])
        total += wx * wy * half**2 * bend.T @ rigidity @ bend
    return np.asarray(inverse.T @ total @ inverse)


class ElementPlate:
    """A square plate, its middle at the origin.

    Args:
        side: Length of its sides, mm.
        thickness: Thickness, mm.
        youngs_MPa: Young's modulus.
        poisson: Poisson's ratio.
        n: Elements along a side; even, so that there is a node in the middle.
    """

    def __init__(
        self, side: float, thickness: float, youngs_MPa: float, poisson: float, n: int = 20
    ) -> None:
        self.n = n
        self.axis = np.linspace(-side / 2.0, side / 2.0, n + 1)
        d = plate_stiffness_Nmm(youngs_MPa, thickness, poisson)
        shear = (1.0 - poisson) / 2.0
        rigidity = d * np.array([[1.0, poisson, 0.0], [poisson, 1.0, 0.0], [0.0, 0.0, shear]])
        # a column of nodes touches only its neighbours: blocks on the diagonal and beside it
        wide = 3 * (n + 1)
        self._diagonal = np.zeros((n + 1, wide, wide))
        self._beside = np.zeros((n, wide, wide))
        self._assemble(_element(side / n / 2.0, rigidity))

    def _assemble(self, element: Vector) -> None:
        """Add up the elements; the corners of one lie in two columns, in two rows of each."""
        left, right = [0, 1, 2, 9, 10, 11], [3, 4, 5, 6, 7, 8]  # freedoms of an element
        for i, j in product(range(self.n), repeat=2):
            rows = slice(3 * j, 3 * j + 6)
            self._diagonal[i, rows, rows] += element[np.ix_(left, left)]
            self._diagonal[i + 1, rows, rows] += element[np.ix_(right, right)]
            self._beside[i, rows, rows] += element[np.ix_(left, right)]

    def _node(self, i: int, j: int) -> int:
        return i * (self.n + 1) + j

    def place(self, node: int) -> tuple[float, float]:
        """Where a node lies, mm."""
        i, j = divmod(node, self.n + 1)
        return float(self.axis[i]), float(self.axis[j])

    def nearest(self, x: float, y: float) -> int:
        """The node next to a place."""
        i = int(np.argmin(np.abs(self.axis - x)))
        return self._node(i, int(np.argmin(np.abs(self.axis - y))))

    def within(self, x: tuple[float, float], y: tuple[float, float]) -> list[int]:
        """The nodes in a rectangle, its edges included."""
        slack = 1e-6
        return [
            node
            for node in range((self.n + 1) ** 2)
            if x[0] - slack <= self.place(node)[0] <= x[1] + slack
            and y[0] - slack <= self.place(node)[1] <= y[1] + slack
        ]

    def ring(self, at: tuple[float, float], radius: float) -> list[int]:
        """The nodes next to a circle: where a container's foot stands."""
        half = (self.axis[1] - self.axis[0]) / 2.0
        found = []
        for node in range((self.n + 1) ** 2):
            x, y = self.place(node)
            if abs(np.hypot(x - at[0], y - at[1]) - radius) <= half:
                found.append(node)
        return found

    def load(self, nodes: Sequence[int], force_N: float) -> Vector:
        """A force, downwards, in equal parts on some nodes."""
        forces = np.zeros(3 * (self.n + 1) ** 2)
        forces[[3 * node for node in nodes]] = force_N / len(nodes)
        return forces

    def solve(self, forces: Vector, held: Sequence[int]) -> Vector:
        """All freedoms under forces, with those of ``held`` at nothing; downwards is positive.

        ``forces`` may be several loads, a column each; so is then the answer.
        """
        wide = 3 * (self.n + 1)
        diagonal = self._diagonal.copy()
        for freedom in held:
            column, row = divmod(freedom, wide)
            diagonal[column, row, row] += _STIFF * self._diagonal.max()
        parts = list(forces.reshape(self.n + 1, wide, -1))
        for i in range(self.n):  # forwards: each column's part in the next one
            share = np.linalg.solve(diagonal[i], self._beside[i])
            diagonal[i + 1] -= self._beside[i].T @ share
            parts[i + 1] = parts[i + 1] - share.T @ parts[i]
        moved = [np.linalg.solve(diagonal[self.n], parts[self.n])]
        for i in reversed(range(self.n)):  # and back
            moved.append(np.linalg.solve(diagonal[i], parts[i] - self._beside[i] @ moved[-1]))
        return np.concatenate(moved[::-1]).reshape(forces.shape)
