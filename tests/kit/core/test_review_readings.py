"""Two readings that happen to be equal are two readings all the same."""

import pytest
from tests.kit.core.bench import JOB, SCALE

from drainscale.core.result import _Readings
from drainscale.core.weighing import Stage, Weighing
from drainscale.procedure.steps import Step
from drainscale.quantities.calibration import Calibration
from drainscale.quantities.density import FluidDensity
from drainscale.quantities.result_quantities import ResultQuantities


def test_nothing_spilled_is_zero_with_the_uncertainty_of_two_readings() -> None:
    """Root 2 times the repeatability (JCGM 100:2008, 5.1.2) over 0.843 kg/L."""
    readings = _Readings(ResultQuantities(FluidDensity(JOB.fluid), Calibration(SCALE)))
    amount = readings.stage(Stage(Step.LEVEL, 0.0, 0.0, [Weighing(0.9, 0.9)]))
    two_readings_L = 2**0.5 * 0.0004 / 0.843
    assert amount.volume_L.value == 0.0
    assert amount.volume_L.u == pytest.approx(two_readings_L, rel=0.01)


def test_equal_readings_of_two_scales_are_two_readings() -> None:
    quantities = ResultQuantities(FluidDensity(JOB.fluid), Calibration(SCALE), Calibration(SCALE))
    readings = _Readings(quantities)
    drain, supply = (readings._reading(0.9, is_supply) for is_supply in (False, True))
    assert drain is not supply
