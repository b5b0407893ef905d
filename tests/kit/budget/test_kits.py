"""The five kits against a table that was worked out apart, term by term and by hand."""

import pytest

from drainscale.budget.kits import Kit, all_kits
from drainscale.budget.terms import Load, all_terms, terms_of

# U of the volume at 20 °C, k = 2, mL, of 2, 4 and 6 L: worked out apart, from the same limits
BY_HAND_ML = {
    "A": (9, 15, 20),
    "B": (14, 25, 36),
    "C": (21, 34, 47),
    "D": (31, 55, 81),
    "E": (17, 22, 27),
}
# standard uncertainties of kit A in g, by hand: rectangular limits divided by root 3
BY_HAND_G = {
    "linearity and hysteresis": (1.35, 2.69, 2.69),
    "creep": (0.31, 0.63, 0.94),
    "zero drift": (1.62, 1.62, 1.62),
    "load off-centre": (0.20, 0.39, 0.59),
    "noise and vibration": (1.41, 1.41, 1.41),
    "touch of cable, hose or tray": (1.73, 1.73, 1.73),
    "tilt of 1 degree": (0.15, 0.30, 0.45),
}
NET_KG = (1.7, 3.4, 5.1)


def kit(name: str) -> Kit:
    return next(one for one in all_kits() if one.name == name)


@pytest.mark.parametrize("name", sorted(BY_HAND_ML))
def test_a_kits_expanded_uncertainty_is_that_of_the_table(name: str) -> None:
    found = [1000.0 * kit(name).budget(litres).whole.U for litres in (2.0, 4.0, 6.0)]
    assert found == pytest.approx(BY_HAND_ML[name], abs=1.0)


@pytest.mark.parametrize("name", sorted(BY_HAND_G))
def test_a_term_of_a_c3_platform_is_that_of_the_table(name: str) -> None:
    (term,) = [one for one in terms_of("c3") if one.name == name]
    found = [1000.0 * term.u_kg(Load(20.0, 1.2, net_kg)) for net_kg in NET_KG]
    assert found == pytest.approx(BY_HAND_G[name], abs=0.01)


def test_mass_alone_is_3_to_4_grams_with_a_c3_cell() -> None:
    found = []
    for litres in (2.0, 4.0, 6.0):
        whole = kit("A").budget(litres).whole
        density_L = next(s.u for s in whole.shares if s.source == "density of the fluid")
        found.append(850.0 * (whole.u**2 - density_L**2) ** 0.5)
    assert found == pytest.approx([3.1, 4.0, 4.1], abs=0.05)


def test_beyond_the_last_step_its_limit_goes_on() -> None:
    linearity = next(one for one in terms_of("c3") if one.steps)
    # 1.05 v of v = capacity / 3000
    assert linearity.u_kg(Load(3.0, 1.0, 3.0)) == pytest.approx(0.00105 / 3.0**0.5, rel=1e-6)


def test_every_term_has_a_limit_and_a_source() -> None:
    for term in all_terms():
        assert term.source, term.name
        assert term.u_kg(Load(20.0, 1.0, 4.0)) > 0.0, term.name
