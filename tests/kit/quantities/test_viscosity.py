"""Viscosity over temperature against ASTM D341 examples."""

import tomllib
from math import exp, inf, nan
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.errors import QuantityError
from drainscale.quantities.job import FluidSheet
from drainscale.quantities.viscosity import FluidViscosity, _nu, _z

CHECKS = tomllib.loads(
    (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
)
EXAMPLE, GRID = CHECKS["viscosity_example"], CHECKS["viscosity_grid"]
POINTS = list(zip(GRID["t_C"], GRID["mm2_per_s"], strict=True))

# viscosities as a job file may hold them, falling by at least a tenth
pairs = st.tuples(st.floats(1.0, 900.0), st.floats(1.1, 20.0)).map(
    lambda pair: (min(pair[0] * pair[1], 1000.0), pair[0])
)


def test_constants_of_a_worked_example() -> None:
    fluid = FluidViscosity(
        EXAMPLE["at_40C"], EXAMPLE["at_100C"], kelvin_offset=EXAMPLE["kelvin_offset"]
    )
    assert pytest.approx(EXAMPLE["A"], abs=1e-4) == fluid.A
    assert pytest.approx(EXAMPLE["B"], abs=1e-4) == fluid.B
    assert fluid.viscosity_mm2_per_s(80.0) == pytest.approx(EXAMPLE["at_80C_printed"], abs=0.05)


def test_the_constants_belong_to_their_offset() -> None:
    assert FluidViscosity(EXAMPLE["at_40C"], EXAMPLE["at_100C"]).A - EXAMPLE["A"] > 0.004


@pytest.mark.parametrize(("t_C", "expected"), POINTS)
def test_viscosity_of_a_fluid_of_34_and_7_4(t_C: float, expected: float) -> None:
    ours = FluidViscosity(34.0, 7.4).viscosity_mm2_per_s(t_C)
    assert ours == pytest.approx(expected, rel=GRID["tolerance_relative"])


@given(pairs)
def test_the_sheets_values_come_back(pair: tuple[float, float]) -> None:
    fluid = FluidViscosity(*pair)
    assert fluid.viscosity_mm2_per_s(40.0) == pytest.approx(pair[0], rel=1e-9)
    assert fluid.viscosity_mm2_per_s(100.0) == pytest.approx(pair[1], rel=1e-9)


@given(pairs, st.floats(-20.0, 129.0))
def test_a_warmer_fluid_is_thinner(pair: tuple[float, float], t_C: float) -> None:
    fluid = FluidViscosity(*pair)
    assert fluid.viscosity_mm2_per_s(t_C + 1.0) < fluid.viscosity_mm2_per_s(t_C)


@pytest.mark.parametrize("nu", [0.5, 0.9, 1.3, 1.9, 2.5, 5.0])
def test_the_inverse_is_close_to_the_polynomial_that_the_standard_prints(nu: float) -> None:
    """ASTM D341-09, equation 4 (coefficients as in public implementations)."""
    y = _z(nu) - 0.7
    printed = y - exp(-0.7487 - 3.295 * y + 0.6119 * y**2 - 0.3193 * y**3)
    assert _nu(_z(nu)) == pytest.approx(nu, rel=1e-12)
    assert printed == pytest.approx(nu, abs=0.003)


def test_a_sheet_without_viscosities_has_none() -> None:
    assert FluidViscosity.of(FluidSheet(850.0, 15.0, 1.5)) is None


def test_a_sheet_with_viscosities_has_them() -> None:
    fluid = FluidViscosity.of(FluidSheet(850.0, 15.0, 1.5, 34.0, 7.4))
    assert fluid is not None
    assert fluid.viscosity_mm2_per_s(40.0) == pytest.approx(34.0)


def test_the_thinnest_fluid_of_the_standard_is_taken() -> None:
    assert FluidViscosity(0.5, 0.211).viscosity_mm2_per_s(100.0) == pytest.approx(0.211)


def test_an_absurd_sheet_does_not_overflow_in_the_cold() -> None:
    assert FluidViscosity(1000.0, 1.0).viscosity_mm2_per_s(-60.0) < inf


@pytest.mark.parametrize(
    ("at_40", "at_100", "message"),
    [
        (7.0, 7.0, "does not fall"),
        (5.0, 7.0, "does not fall"),
        (7.0, 0.2, "0.21"),
        (nan, 7.0, "finite"),
    ],
)
def test_viscosities_that_are_none_are_refused(at_40: float, at_100: float, message: str) -> None:
    with pytest.raises(QuantityError, match=message):
        FluidViscosity(at_40, at_100)
