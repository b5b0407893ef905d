"""Warm-up, mixing and the falling stream against closed forms."""

from math import exp

import pytest

from drainscale_sim.bay.heat import OIL_J_PER_KG_K, Clamp, Heat, HeatSetup, Kick
from drainscale_sim.bay.outflow import GRAVITY_M_PER_S2
from drainscale_sim.bay.stream import FallingStream

FIRST_ORDER = HeatSetup(
    air_C=25.0,
    start_C=25.0,
    engine_C=90.0,
    engine_tau_s=0.0,
    fluid_tau_s=1200.0,
    loss_tau_s=0.0,
    churn_K_per_s=0.0,
)


@pytest.mark.parametrize(("to_C", "after_s"), [(35, 200.4649), (40, 314.8371), (45, 441.2697)])
def test_a_first_order_warm_up_takes_tau_times_the_logarithm(to_C: float, after_s: float) -> None:
    # closed form tau ln((Tend - T0)/(Tend - T)): 25 to 90 °C, tau 1200 s
    heat = Heat(FIRST_ORDER)
    for _ in range(round(after_s / 0.05)):
        heat.step(0.05, is_running=True)
    assert heat.fluid_C == pytest.approx(to_C, abs=0.003)


def test_a_stopped_engine_lets_the_fluid_fall_towards_the_air() -> None:
    heat = Heat(HeatSetup(air_C=20.0, start_C=50.0, loss_tau_s=2500.0))
    for _ in range(25000):
        heat.step(0.1, is_running=False)
    assert heat.fluid_C == pytest.approx(20.0 + 30.0 * exp(-1.0), abs=0.01)


def test_new_oil_takes_its_share_of_the_heat() -> None:
    heat = Heat(HeatSetup(air_C=20.0, start_C=40.0, case_J_per_K=8000.0))
    heat.mix(2.0, 10.0, there_kg=4.0)
    there, new = 8000.0 + 4.0 * OIL_J_PER_KG_K, 2.0 * OIL_J_PER_KG_K
    assert heat.fluid_C == pytest.approx((there * 40.0 + new * 10.0) / (there + new))


def test_a_kick_slows_the_warm_up_while_it_lasts() -> None:
    kicked = Heat(HeatSetup(air_C=20.0, start_C=20.0, kicks=(Kick(100.0, 60.0, 0.3),)))
    plain = Heat(HeatSetup(air_C=20.0, start_C=20.0))
    for _ in range(1000):
        kicked.step(0.1, is_running=True)
        plain.step(0.1, is_running=True)
    assert kicked.fluid_C == pytest.approx(plain.fluid_C, abs=0.01)
    for _ in range(600):
        kicked.step(0.1, is_running=True)
        plain.step(0.1, is_running=True)
    assert kicked.fluid_C < plain.fluid_C - 0.3


def test_the_clamp_follows_a_step_with_its_lag_and_ratio() -> None:
    clamp = Clamp(ratio=0.9, lag_s=30.0, skin_C=20.0)
    for _ in range(300):
        clamp.step(0.1, fluid_C=60.0, air_C=20.0)
    assert clamp.skin_C == pytest.approx(20.0 + 36.0 * (1.0 - exp(-1.0)), abs=1e-6)


def _steady(until_s: float) -> tuple[float, float]:
    """A stream of 42.5 g/s that leaves at 1 m/s and falls 0.5 m; landed, kg, and push, kg."""
    stream, landed, push, dt = FallingStream(0.5), 0.0, 0.0, 0.001
    for k in range(1, round(until_s / dt) + 1):
        stream.leave(k * dt, 0.0425 * dt, 1.0)
        part, momentum = stream.land(k * dt)
        landed += part
        push = 0.9 * push + 0.1 * momentum / dt / GRAVITY_M_PER_S2
    return landed, push


def test_a_steady_stream_reads_more_than_left_by_flow_times_first_speed() -> None:
    # momentum balance; mass in flight 9.9129 g, push 14.2467 g, excess 4.3338 g
    landed, push = _steady(2.0)
    left = 0.0425 * 2.0
    assert left - landed == pytest.approx(9.9129e-3, abs=0.05e-3)
    assert push == pytest.approx(14.2467e-3, abs=0.05e-3)
    assert landed + push - left == pytest.approx(4.3338e-3, abs=0.05e-3)
