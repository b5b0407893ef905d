"""Record and whole kit: what is counted where, and never twice."""

import dataclasses

import pytest

from drainscale.budget.kit import Way, kit_budget, kit_budget_20C
from drainscale.budget.kits import all_kits
from drainscale.errors import QuantityError
from drainscale.quantities.job import Job
from drainscale.quantities.measured import Measured

COLD = Way(fluid_C=20.0)


def job(repeatability_u_kg: float) -> Job:
    sound = all_kits()[0].job
    scale = dataclasses.replace(sound.scale, repeatability_u_kg=repeatability_u_kg)
    return dataclasses.replace(sound, scale=scale)


def sources(measured: Measured) -> set[str]:
    return {share.source for share in measured.shares}


def test_a_modest_claim_of_the_bench_file_gives_way_to_the_class_of_the_cell() -> None:
    budget = kit_budget(job(0.0002), 4.0, COLD)
    assert "repeatability" in sources(budget.record)
    assert "repeatability" not in sources(budget.whole)
    assert {"creep", "noise and vibration"} <= sources(budget.whole)


def test_a_claim_that_covers_the_class_stands_and_is_not_counted_twice() -> None:
    budget = kit_budget(job(0.004), 4.0, COLD)
    assert "repeatability" in sources(budget.whole)
    assert not {"creep", "noise and vibration"} & sources(budget.whole)
    assert "zero drift" in sources(budget.whole)


@pytest.mark.parametrize("litres", [2.0, 4.0, 6.0])
def test_with_the_advised_repeatability_the_record_tells_the_whole_kit(litres: float) -> None:
    whole = kit_budget(job(0.0004), litres, COLD).whole
    advised = kit_budget(job(0.0004), litres, COLD).advised_u_kg
    assert kit_budget(job(advised), litres, COLD).record.u == pytest.approx(whole.u, rel=1e-3)


def test_warm_fluid_is_less_sure_as_a_volume_then_and_as_sure_at_20_degrees() -> None:
    warm = Way(fluid_C=80.0, u_fluid_C=3.0)
    assert kit_budget(job(0.0004), 4.0, warm).record.u > kit_budget(job(0.0004), 4.0, COLD).record.u
    at_20C = [kit_budget_20C(job(0.0004), 4.0, way).record.u for way in (warm, COLD)]
    assert at_20C[0] == pytest.approx(at_20C[1], rel=1e-3)


@pytest.mark.parametrize("litres", [0.0, -1.0, 23.0])
def test_more_than_the_cell_carries_is_refused(litres: float) -> None:
    with pytest.raises(QuantityError, match=r"the platform carries 0 to 18\.8 kg"):
        kit_budget(job(0.0004), litres, COLD)
