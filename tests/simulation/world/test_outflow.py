"""Laws of outflow against closed forms and published values."""

from math import pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale_sim.bay.outflow import (
    CREST,
    GRAVITY_M_PER_S2,
    SHARP_HOLE,
    down_pipe_m3_per_s,
    drop_mass_kg,
    film_hold_up_m3,
    film_run_off_m3_per_s,
    over_crest_m3_per_s,
    side_hole_m3_per_s,
    tube_m3_per_s,
)


def test_a_hole_without_length_is_torricellis_orifice() -> None:
    # closed form C A sqrt(2 g h): 12 mm, C = 0.61, head 0.1 m
    assert tube_m3_per_s(0.012, 0.0, 0.1, 40e-6) * 1e6 == pytest.approx(96.6179, abs=1e-3)


@pytest.mark.parametrize(("head_ft", "published"), [(1, 0.62), (2, 0.613), (4, 0.608), (10, 0.605)])
def test_the_coefficient_is_that_of_sharp_round_holes(head_ft: float, published: float) -> None:
    # sharp circular orifice of 0.196 sq in in water, Encyclopaedia Britannica, 11th ed.,
    # "Hydraulics" (public domain)
    bore_m, head_m = sqrt(4.0 * 0.196 / pi) * 0.0254, head_ft * 0.3048
    torricelli = 0.25 * pi * bore_m**2 * sqrt(2.0 * GRAVITY_M_PER_S2 * head_m)
    assert tube_m3_per_s(bore_m, 0.0, head_m, 1e-6) / torricelli == pytest.approx(
        published, abs=0.012
    )


def test_a_long_narrow_tube_of_thick_oil_keeps_to_hagen_and_poiseuille() -> None:
    bore_m, length_m, nu, head_m = 0.002, 1.0, 400e-6, 1.0
    law = pi * GRAVITY_M_PER_S2 * head_m * bore_m**4 / (128.0 * nu * length_m)
    assert tube_m3_per_s(bore_m, length_m, head_m, nu) == pytest.approx(law, rel=1e-3)


def test_a_round_rim_is_a_crest_as_long_as_its_girth() -> None:
    # handbook 0.414 sqrt(2 g) = 1.83348; 12 mm, head 2 mm
    assert CREST * sqrt(2.0 * GRAVITY_M_PER_S2) == pytest.approx(1.83348, abs=1e-5)
    assert over_crest_m3_per_s(pi * 0.012, 0.002) * 1e6 == pytest.approx(6.1823, abs=1e-3)


def test_double_head_over_a_crest_gives_flow_times_two_to_the_three_halves() -> None:
    ratio = over_crest_m3_per_s(0.03, 0.002) / over_crest_m3_per_s(0.03, 0.001)
    assert ratio == pytest.approx(2.828427, abs=1e-6)


def test_rim_passes_control_to_bore_where_the_two_laws_meet() -> None:
    # h = C (D/4)/0.414: 4.4203 mm for 12 mm and C = 0.61
    below, above = (down_pipe_m3_per_s(0.012, 0.0, h, 20e-6) for h in (0.0044, 0.0045))
    assert below == over_crest_m3_per_s(pi * 0.012, 0.0044)
    assert above == tube_m3_per_s(0.012, 0.0, 0.0045, 20e-6)


@pytest.mark.parametrize("head_m", [0.0005, 0.002, 0.005])
def test_a_side_hole_is_torricellis_speed_over_its_chord(head_m: float) -> None:
    bore_m, parts = 0.012, 20000
    dz = head_m / parts
    chords = (((k + 0.5) * dz) for k in range(parts))
    summed = sum(
        2.0 * sqrt(z * (bore_m - z)) * sqrt(2.0 * GRAVITY_M_PER_S2 * (head_m - z)) for z in chords
    )
    assert side_hole_m3_per_s(bore_m, head_m) == pytest.approx(SHARP_HOLE * summed * dz, rel=0.01)


def test_the_film_on_a_wall_is_the_integral_of_jeffreys_law() -> None:
    # Jeffreys 1930: thickness sqrt(nu z/(g t)) at depth z; a 0.1 m wall, 2 m wide
    nu, since_s, parts = 60e-6, 100.0, 20000
    dz = 0.1 / parts
    summed = sum(sqrt(nu * (k + 0.5) * dz / (GRAVITY_M_PER_S2 * since_s)) for k in range(parts))
    assert film_hold_up_m3(2.0, 0.1, nu, since_s) == pytest.approx(2.0 * summed * dz, rel=1e-4)


def test_a_film_runs_off_as_the_three_halves_power_of_time() -> None:
    nu, width_m, height_m = 60e-6, 2.0, 0.1
    spread = film_hold_up_m3(width_m, height_m, nu, 1.0)
    flows = [
        film_run_off_m3_per_s(film_hold_up_m3(width_m, height_m, nu, t), spread)
        for t in (100.0, 400.0)
    ]
    assert flows[0] / flows[1] == pytest.approx(8.0)
    ten_ms = 0.01
    left = film_hold_up_m3(width_m, height_m, nu, 100.0)
    later = film_hold_up_m3(width_m, height_m, nu, 100.0 + ten_ms)
    assert flows[0] == pytest.approx((left - later) / ten_ms, rel=1e-3)


@pytest.mark.parametrize(
    ("tip_m", "per_mL", "within"), [(0.002, 35.98, 1.8), (0.003, 24.66, 1.2), (0.004, 17.83, 0.9)]
)
def test_drops_are_as_many_a_millilitre_as_tates_law_says(
    tip_m: float, per_mL: float, within: float
) -> None:
    # Tate with the Harkins-Brown factor, 30 mN/m and 850 kg/m3; from memory
    assert 850e-6 / drop_mass_kg(tip_m) == pytest.approx(per_mL, abs=within)


@given(head_m=st.floats(0.0, 0.2), nu=st.floats(2e-6, 1e-3))
def test_no_law_gives_more_for_thicker_oil_or_less_head(head_m: float, nu: float) -> None:
    flow = down_pipe_m3_per_s(0.01, 0.025, head_m, nu)
    assert 0.0 <= down_pipe_m3_per_s(0.01, 0.025, head_m, 2.0 * nu) <= flow
    assert flow <= down_pipe_m3_per_s(0.01, 0.025, head_m + 0.001, nu)
