"""The budget against a propagation of distributions, by a model that was written apart.

Method: JCGM 101:2008 (Monte Carlo), clause 7; the comparison is its clause 8: the ends of the
95.45 % intervals agree within the numerical tolerance of one significant digit of u.
"""

import math

import numpy as np
import numpy.typing as npt
import pytest

from drainscale.budget.kit import Way, kit_budget
from drainscale.budget.kits import Kit, all_kits
from drainscale.budget.terms import Load, terms_of

TRIALS = 200_000
SEED = 20_261_125
WAY = Way("c3", tare_kg=1.2, fluid_C=55.0, u_fluid_C=1.5)
Draws = npt.NDArray[np.float64]


def volume_L(
    shown_kg: Draws, density_20C: Draws, expansion_error: Draws, fluid_C: Draws, air: Draws
) -> Draws:
    """W (1 - 1.2/8000) / (rho - rho_a), rho by table 54D from the density at 20 °C, in closed form.

    With x = alpha dT and alpha = 0.6278 / rho15: rho = rho15 exp(-x (1 + 0.8 x)).
    """
    rho15 = density_20C.copy()
    for _ in range(6):  # fixed point: rho15 = rho20 / VCF(20 °C)
        x = 0.6278 / rho15 * 5.0
        rho15 = density_20C * np.exp(x * (1.0 + 0.8 * x))

    def log_vcf(celsius: Draws | float) -> Draws:
        x = 0.6278 / rho15 * (np.asarray(celsius) - 15.0)
        return np.asarray(-x * (1.0 + 0.8 * x))

    # the expansion from where the density is known is wrong by the same part everywhere
    grown = (log_vcf(fluid_C) - log_vcf(20.0)) * (1.0 + expansion_error)
    density = density_20C * np.exp(grown)
    return np.asarray(shown_kg * (1.0 - 1.2 / 8000.0) / (density - air) * 1000.0)


def drawn_volumes_L(kit: Kit, net_kg: float) -> Draws:
    rng = np.random.default_rng(SEED)

    def normal(mean: float, u: float) -> Draws:
        return rng.normal(mean, u, TRIALS)

    shown = net_kg * (1.0 + normal(0.0, kit.span_u))
    load = Load(20.0, WAY.tare_kg, net_kg)
    for term in terms_of("c3"):
        u_kg = term.u_kg(load)
        if term.form == "rectangular":
            half = u_kg * math.sqrt(3.0)
            shown += rng.uniform(-half, half, TRIALS)
        else:
            shown += normal(0.0, u_kg)
    return volume_L(
        shown,
        normal(850.0, 850.0 * kit.density_u),
        normal(0.0, 0.03),
        normal(WAY.fluid_C, WAY.u_fluid_C),
        normal(1.2, 0.03),
    )


@pytest.mark.parametrize("litres", [2.0, 4.0, 6.0])
@pytest.mark.parametrize("name", ["A", "B"])
def test_monte_carlo_validates_the_linear_budget(name: str, litres: float) -> None:
    kit = next(one for one in all_kits() if one.name == name)
    whole = kit_budget(kit.job, litres, WAY).whole
    volumes = drawn_volumes_L(kit, litres * 0.85 * (850.0 - 1.2) / 850.0 / (1.0 - 1.2 / 8000.0))
    # u to one significant digit c x 10^l: delta = 10^l / 2 (JCGM 101:2008, 7.9.2)
    delta_L = 0.5 * 10.0 ** math.floor(math.log10(whole.u))
    low, high = np.quantile(volumes, [0.02275, 0.97725])  # as k = 2 of a normal one
    assert abs(whole.value - whole.U - low) < delta_L
    assert abs(whole.value + whole.U - high) < delta_L
    assert np.std(volumes) == pytest.approx(whole.u, rel=0.01)
    assert np.mean(volumes) == pytest.approx(whole.value, abs=0.05 * whole.u)
