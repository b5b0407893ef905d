"""Numbers that no sensor and no person means: the answer stays finite, and the rest holds."""

from collections.abc import Callable

import pytest
from tests.kit.core.bench import Bench, answered, serve

from drainscale.quantities.samples import (
    BoardReading,
    PanReading,
    Reference,
    Sample,
    ScaleCount,
)
from drainscale_sim.score.contract import complaints

WILD_C = (1e300, -1e9, 1000.0)
KINDS: dict[str, Callable[[float, float], Sample]] = {
    "pan": PanReading,
    "board": BoardReading,
    "reference": Reference,
}


@pytest.fixture(scope="module")
def service() -> Bench:
    return serve(Bench())


@pytest.mark.parametrize("value_C", WILD_C)
@pytest.mark.parametrize("kind", KINDS)
def test_a_wild_temperature_spoils_nothing(kind: str, value_C: float, service: Bench) -> None:
    """One every ten seconds: the masses stay what they are, the verdict too."""
    samples: list[Sample] = []
    for i, sample in enumerate(service.samples):
        samples.append(sample)
        if i % 120 == 7:
            samples.append(KINDS[kind](sample.t, value_C))
    answer = answered(service, samples)
    assert complaints(answer) == []
    assert answer["drained"]["mass_kg"] == pytest.approx(service.drained_kg, abs=0.001)
    assert answer["refill"]["added_mass_kg"] == pytest.approx(service.added_kg, abs=0.001)
    assert answer["level"]["verdict"] == "closed-in-window"


@pytest.mark.parametrize(("kind", "value_C"), [("pan", 1e300), ("board", -1e300), ("board", 150.0)])
def test_nothing_but_wild_temperatures_leaves_the_masses(
    kind: str, value_C: float, service: Bench
) -> None:
    samples: list[Sample] = []
    for sample in service.samples:
        if isinstance(sample, PanReading | BoardReading):
            samples.append(KINDS[kind](sample.t, value_C))
        else:
            samples.append(sample)
    answer = answered(service, samples)
    assert complaints(answer) == []
    assert answer["drained"]["mass_kg"] == pytest.approx(service.drained_kg, abs=0.002)


@pytest.mark.parametrize("count", [8_388_607, 5_000_000, -3_000_000])
def test_single_wild_counts_move_nothing(count: int, service: Bench) -> None:
    """Saturated samples and bit errors are no faults."""
    samples: list[Sample] = []
    for i, sample in enumerate(service.samples):
        is_hit = isinstance(sample, ScaleCount) and i % 97 == 5
        samples.append(ScaleCount(sample.t, count) if is_hit else sample)
    answer = answered(service, samples)
    assert answer["drained"]["mass_kg"] == pytest.approx(service.drained_kg, abs=0.001)
    assert answer["refill"]["added_mass_kg"] == pytest.approx(service.added_kg, abs=0.0015)
    assert not [e for e in answer["events"] if e["event"].startswith("sensor-")]
