"""A measured value: number, standard uncertainty, and where the uncertainty comes from.

Results are formed with the package ``uncertainties``, which keeps each cause apart, so that
what two results have in common cancels when they are subtracted. A ``Measured`` is what is
handed out in the end: plain numbers, with the shares still visible.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt
from typing import Any, Literal

from uncertainties import nominal_value, ufloat

COVERAGE_K = 2.0  # expanded uncertainties, about 95 % (JCGM 100:2008, 6.3.3)

# A number of the package ``uncertainties``, which ships no types. Only this module and
# ``result_quantities`` handle it.
Quantity = Any

# the sources of uncertainty, named alike in every budget of the kit
Source = Literal[
    "calibration weights",
    "repeatability",
    "unweighed fluid",
    "density of the fluid",
    "expansion of the fluid",
    "fluid temperature",
    "air buoyancy",
    "typed in",
]


@dataclass(frozen=True, slots=True)
class Share:
    """One cause of uncertainty: its standard uncertainty in the result, and its part of u²."""

    source: str
    u: float
    fraction: float


@dataclass(frozen=True, slots=True)
class Measured:
    """A value with its standard uncertainty (k = 1), in the unit that its holder's name says."""

    value: float
    u: float
    shares: tuple[Share, ...] = ()  # largest first

    @property
    def U(self) -> float:
        """Expanded uncertainty, k = 2 (about 95 %)."""
        return COVERAGE_K * self.u

    @classmethod
    def of_components(cls, value: float, components: Iterable[tuple[str, float]]) -> "Measured":
        """Join independent standard uncertainties, summing squares of those of one source.

        Args:
            value: The value.
            components: Pairs of source and its (signed or unsigned) standard uncertainty in
                the result. Sources that contribute nothing are left out of the shares.

        Source:
            JCGM 100:2008, 5.1.2 and 5.1.3.

        Example:
            >>> total = Measured.of_components(10.0, [("mass", 0.3), ("density", -0.4)])
            >>> total.u, total.shares[0].source, round(total.shares[0].fraction, 2)
            (0.5, 'density', 0.64)
        """
        variance: dict[str, float] = {}
        for source, u in components:
            variance[source] = variance.get(source, 0.0) + u * u
        total = sum(variance.values())
        shares = [Share(s, sqrt(v), v / total) for s, v in variance.items() if v > 0.0]
        shares.sort(key=lambda share: -share.u)
        return cls(value, sqrt(total), tuple(shares))


def variable(value: float, u: float, source: Source) -> Quantity:
    """Make an independent input quantity; two made alike are *not* the same.

    An exact one (u = 0) stays a plain float: it has no part in any budget.
    """
    return ufloat(value, u, tag=source) if u else value


def measured(quantity: Quantity) -> Measured:
    """Hand out a quantity of the package ``uncertainties`` as plain numbers with its shares."""
    return Measured.of_components(float(nominal_value(quantity)), budget(quantity))


def budget(quantity: Quantity) -> list[tuple[str, float]]:
    """List the standard uncertainty that each input quantity gives to a result, by source."""
    if isinstance(quantity, int | float):
        return []
    return [(str(cause.tag), float(u)) for cause, u in quantity.error_components().items()]
