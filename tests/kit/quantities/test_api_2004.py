"""The 2004 route against the worked examples that the standard prints."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.quantities import api_2004
from drainscale.quantities.density import vcf_54d

CHECKS = tomllib.loads(
    (Path(__file__).parents[2] / "data" / "check_values.toml").read_text("utf-8")
)
WATER_60F_KG_PER_M3 = 999.016  # API MPMS 11.1-2004
LUBRICATING = CHECKS["ctl_lubricating_oil"]

examples = pytest.mark.parametrize(
    "case", CHECKS["ctl_intermediates"], ids=lambda case: case["group"]
)


def base_density(case: dict[str, Any]) -> float:
    if "base_api_gravity" in case:
        return float(WATER_60F_KG_PER_M3 * 141.5 / (case["base_api_gravity"] + 131.5))
    if "base_relative_density" in case:
        return float(WATER_60F_KG_PER_M3 * case["base_relative_density"])
    return float(case["base_kg_per_m3"])


@examples
def test_temperature_on_ipts_68(case: dict[str, Any]) -> None:
    assert api_2004.to_ipts68_F(case["t90_F"]) == pytest.approx(case["t68_F"], abs=1e-9)


@examples
def test_base_density_moved_to_ipts_68(case: dict[str, Any]) -> None:
    group = getattr(api_2004, case["group"])
    ours = api_2004.shifted_base_density(base_density(case), group)
    assert ours == pytest.approx(case["shifted_kg_per_m3"], abs=1e-8)


@examples
def test_expansion_at_60_F(case: dict[str, Any]) -> None:
    group = getattr(api_2004, case["group"])
    ours = api_2004.alpha60_per_F(case["shifted_kg_per_m3"], group)
    assert ours == pytest.approx(case["alpha60_per_F"], abs=1e-12)


@examples
def test_correction_factor(case: dict[str, Any]) -> None:
    group = getattr(api_2004, case["group"])
    ours = api_2004.ctl_60F(base_density(case), case["t90_F"], group)
    assert ours == pytest.approx(case["ctl"], abs=1e-11)


@pytest.mark.parametrize(("rho60", "t_F", "ctl"), LUBRICATING["points"])
def test_correction_factor_of_lubricating_oil(rho60: float, t_F: float, ctl: float) -> None:
    assert api_2004.ctl_60F(rho60, t_F) == pytest.approx(ctl, abs=LUBRICATING["tolerance"])


def test_nothing_is_corrected_at_60_F() -> None:
    assert api_2004.ctl_60F(850.0, 60.0) == pytest.approx(1.0, abs=1e-12)


@given(st.floats(810.0, 1150.0), st.floats(-10.0, 110.0))
def test_the_table_of_1980_is_met_within_1e5(rho15: float, fluid_C: float) -> None:
    assert api_2004.vcf_base_15C(rho15, fluid_C) == pytest.approx(vcf_54d(rho15, fluid_C), abs=1e-5)
