"""The power of a thin spill: weir when strong and thin, film when weak and thick."""

import math

import pytest

from drainscale.estimation.film import BORE_M, film_factor, rim_power

WATER_MM2_PER_S = 1.0  # 1.0034 mm2/s at 20 °C: ISO/TR 3666 (from memory)
OIL_MM2_PER_S = 30.0


def head_m(flow_mL_per_s: float, mm2_per_s: float) -> float:
    """Weir's head plus the film's thickness, as the handbooks give them."""
    per_m = 1e-6 * flow_mL_per_s / (math.pi * BORE_M)
    weir_m: float = (per_m / (0.414 * math.sqrt(2.0 * 9.80665))) ** (2.0 / 3.0)
    film_m: float = (3.0 * 1e-6 * mm2_per_s * per_m / 9.80665) ** (1.0 / 3.0)
    return weir_m + film_m


@pytest.mark.parametrize("flow", [0.2, 1.0, 5.0])
@pytest.mark.parametrize("mm2_per_s", [5.0, 30.0, 100.0])
def test_the_power_is_the_slope_of_flow_over_head_on_log_paper(
    flow: float, mm2_per_s: float
) -> None:
    higher, lower = head_m(1.01 * flow, mm2_per_s), head_m(flow / 1.01, mm2_per_s)
    slope = 2.0 * math.log(1.01) / math.log(higher / lower)
    assert rim_power(flow, mm2_per_s) == pytest.approx(slope, rel=1e-3)


def test_a_strong_flow_of_water_is_nearly_the_weirs() -> None:
    assert rim_power(100.0, WATER_MM2_PER_S) == pytest.approx(1.5, abs=0.1)


def test_the_last_drops_of_oil_are_nearly_a_films() -> None:
    assert rim_power(1e-5, OIL_MM2_PER_S) == pytest.approx(3.0, abs=0.15)


def test_at_the_close_limit_a_third_more_stands_above_the_rim_than_by_the_weir() -> None:
    assert film_factor(1.0, OIL_MM2_PER_S) == pytest.approx(1.37, abs=0.07)


def test_a_sheet_without_viscosity_means_a_usual_fluid() -> None:
    assert rim_power(1.0, None) == rim_power(1.0, 25.0)


def test_what_has_run_dry_is_a_film() -> None:
    assert rim_power(0.0, OIL_MM2_PER_S) == 3.0
