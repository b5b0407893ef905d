"""A hand that lifts a container a little, holds it almost still, and lets go in two steps."""

import pytest
from tests.kit.core.bench import Bench, answered, times


def lifts(s: float) -> float:
    """What a hand takes off at ``s``: 0.18 kg, less and less while it holds still, then nothing."""
    if s < 0.5:
        return -0.36 * s
    return -0.18 + 0.08 * (s - 0.5) if s < 2.0 else 0.0


@pytest.mark.parametrize("after_s", [40.0, 90.0, 150.0])
def test_a_hand_that_lets_go_in_two_steps_takes_no_oil_and_gives_none(after_s: float) -> None:
    bench = Bench()
    bench.wait(4.0)
    bench.place(0.9)
    bench.wait(12.0)
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(after_s)
    bench.wait(2.6, lifts)
    bench.wait(120.0)
    assert answered(bench)["drained"]["mass_kg"] == pytest.approx(bench.drained_kg, abs=0.002)


def leans(s: float) -> float:
    """A hand that leans on it little by little and lets go at once."""
    if s < 0.8:
        return 0.034 * s / 0.8
    return 0.034 + 0.03 * (s - 0.8) if s < 1.6 else 0.0


def test_a_hand_that_comes_little_by_little_and_goes_at_once_takes_no_oil() -> None:
    bench = Bench()
    bench.wait(4.0)
    bench.place(0.9)
    bench.wait(12.0)
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(150.0)
    bench.wait(2.6, leans)
    bench.wait(120.0)
    assert answered(bench)["drained"]["mass_kg"] == pytest.approx(bench.drained_kg, abs=0.002)


def test_a_hand_that_lifts_the_container_while_it_warms_is_no_filling() -> None:
    bench = Bench()
    bench.mark("warm")
    bench.place(3.0)
    bench.wait(20.0)
    bench.wait(2.0, lambda s: -0.05 if s < 1.9 else 0.0)
    bench.wait(20.0)
    steps = [step["step"] for step in answered(bench)["steps"]]
    assert steps[-1] == "warm"


def test_a_hand_that_sways_on_the_container_while_it_warms_is_no_spill() -> None:
    """It comes at once, leans harder for two seconds as a flow would, and lets go."""
    bench = Bench(shaking_kg=0.002)
    bench.mark("warm")
    bench.place(3.0)
    bench.wait(20.0)
    bench.wait(2.7, lambda s: 0.045 + 0.018 * s if s < 2.6 else 0.0)
    bench.wait(30.0)
    answer = answered(bench)
    assert not times(answer, "flow-started")
    assert answer["spill"]["mass_kg"] is None


def test_a_hand_on_the_drain_container_that_lets_go_in_two_steps_fills_nothing_in() -> None:
    """Somebody leans on it for a second amid the drain's last drops: no pump, no jug."""
    bench = Bench()
    bench.place(1.4)
    bench.wait(8.0)
    bench.open_drain(kg=1.5, tau_s=20.0)
    bench.wait(120.0)
    bench.wait(1.8, lambda s: 0.25 - 0.14 * s if 0.3 < s < 1.6 else 0.0)
    bench.wait(60.0)
    answer = answered(bench)
    assert answer["refill"]["added_mass_kg"] is None
    assert answer["drained"]["mass_kg"] == pytest.approx(bench.drained_kg, abs=0.002)


def test_a_hand_that_lifts_the_container_slowly_and_sets_it_down_adds_nothing() -> None:
    """It takes 170 g off over a second, as strokes of a pump would, and gives them back at once."""
    bench = Bench()
    bench.mark("warm")
    bench.place(3.0)
    bench.wait(20.0)
    bench.wait(2.9, lambda s: -0.13 * min(s, 1.3) if s < 2.6 else 0.0)
    bench.wait(20.0)
    bench.lift()
    answer = answered(bench)
    assert answer["refill"]["added_mass_kg"] is None
    assert answer["steps"][-1]["step"] == "warm"
