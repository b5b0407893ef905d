"""The made-up bench itself: its truth adds up, and its physics are the closed forms."""

import math

import pytest
from tests.kit.core.bench import (
    COUNTS_PER_KG,
    ZERO_COUNT,
    Bench,
    Drain,
    Spill,
    WarmUp,
    serve,
    shown,
)

from drainscale.quantities.samples import PanReading, ScaleCount


def test_a_film_thins_as_the_power_three_halves_of_time() -> None:
    """Jeffreys, Proc. Camb. Phil. Soc. 26 (1930) 204: volume ~ t^-1/2, flow ~ t^-3/2."""
    film = Drain(kg=0.0, tau_s=1.0, film_kg=1.0, film_s=1.0)
    flow = [film.ran_kg(t + 1.0) - film.ran_kg(t) for t in (1_000.0, 4_000.0)]
    assert flow[0] / flow[1] == pytest.approx(4.0**1.5, rel=0.002)


def test_a_weir_carries_2_83_times_the_flow_at_double_the_head() -> None:
    """Ratio 2^1.5: the law of a sharp crest, closed form."""
    one, two = (Spill(v, pipe_mL_per_s=1e9).flow_mL_per_s for v in (50.0, 100.0))
    assert two / one == pytest.approx(2.828_427, rel=1e-6)


@pytest.mark.parametrize(("limit_C", "after_s"), [(35.0, 200.4649), (45.0, 441.2697)])
def test_a_warm_up_reaches_its_limits_by_the_closed_form(limit_C: float, after_s: float) -> None:
    """tau ln((Tinf - T0) / (Tinf - T)) for 25 to 90 °C in 1200 s, evaluated apart."""
    warm_up = WarmUp(start_C=25.0, final_C=90.0, tau_s=1200.0)
    assert warm_up.reaches_s(limit_C) == pytest.approx(after_s, abs=0.001)
    assert warm_up.fluid_C(after_s) == pytest.approx(limit_C, abs=1e-4)


def test_a_scale_shows_0_13_percent_less_oil_than_there_is() -> None:
    """Buoyancy in air of 1.2 kg/m3, weights of 8000 kg/m3: OIML D 28."""
    assert shown(1.0, 846.0) == pytest.approx((1 - 1.2 / 846) / (1 - 1.2 / 8000), rel=1e-12)
    assert 1.0 - shown(1.0, 846.0) == pytest.approx(0.00127, abs=0.00001)


def test_what_is_weighed_at_rest_is_what_stands_there() -> None:
    bench = Bench(noise_kg=0.0)
    bench.place(2.0)
    bench.wait(3.0)
    last = [s for s in bench.samples if isinstance(s, ScaleCount)][-1]
    assert (last.count - ZERO_COUNT) / COUNTS_PER_KG == pytest.approx(2.0, abs=3e-6)


def test_the_skin_lags_behind_the_fluid_and_stays_below_it() -> None:
    bench = Bench()
    bench.start_engine()
    bench.wait(600.0)
    pan = [s for s in bench.samples if isinstance(s, PanReading)]
    assert 18.0 + 0.9 * (bench.fluid_C - 18.0) - 3.0 < pan[-1].pan_C < bench.fluid_C
    assert all(math.isfinite(s.pan_C) for s in pan)


def test_all_that_ran_out_of_a_service_is_accounted_for() -> None:
    bench = serve(Bench())
    assert bench.drained_kg == pytest.approx(2.2 + 0.5 + 0.0385, abs=0.01)
    assert bench.added_kg == pytest.approx(3.2)
    assert [s.t for s in bench.samples] == sorted(s.t for s in bench.samples)
