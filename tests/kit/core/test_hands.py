"""A hand that lifts a container a little, holds it almost still, and lets go in two steps."""

import pytest
from tests.kit.core.bench import Bench, answered


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
