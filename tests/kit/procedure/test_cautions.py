"""Where work can hurt, something is said."""

import pytest

from drainscale.procedure.cautions import BURN_FROM_C, CAUTIONS, cautions_at
from drainscale.procedure.steps import Step


def shown(step: Step, fluid_upper_C: float | None = 20.0) -> set[str]:
    return {caution.id for caution in cautions_at(step, fluid_upper_C)}


# Source: burn-prevention literature on hot water, from memory: 60 °C scalds in about 5 s.
def test_hot_fluid_is_warned_of_from_sixty_degrees() -> None:
    assert BURN_FROM_C == 60.0
    assert "burn" in shown(Step.DRAIN, 60.0)
    assert "burn" not in shown(Step.DRAIN, 59.9)


def test_fluid_of_unknown_temperature_counts_as_hot() -> None:
    assert "burn" in shown(Step.DRAIN, None)


@pytest.mark.parametrize("step", [Step.PREPARE, Step.DRAIN, Step.DRAIN_PAN, Step.LEVEL, Step.SEAL])
def test_whoever_opens_a_plug_is_told_of_lift_eyes_and_fire(step: Step) -> None:
    assert {"lift", "eyes", "fire", "hot-parts"} <= shown(step)


@pytest.mark.parametrize("step", [Step.CIRCULATE, Step.WARM, Step.LEVEL, Step.SEAL])
def test_a_running_engine_is_warned_of_as_long_as_it_runs(step: Step) -> None:
    assert {"exhaust", "moving-parts"} <= shown(step)


def test_nobody_is_under_the_vehicle_while_it_is_shifted() -> None:
    assert "nobody-under" in shown(Step.CIRCULATE)


# Source: 40 CFR 279.22(c)(1): containers of used oil are labelled "Used Oil".
def test_used_oil_is_labelled() -> None:
    waste = next(caution for caution in CAUTIONS if caution.id == "waste")
    assert "labelled Used Oil" in waste.text
    assert "waste" in shown(Step.DONE)


# Source: 29 CFR 1910.1000 as in an OSHA fact sheet: 50 ppm over 8 h; IMC 502.14, as quoted: the
# exhaust of an engine that runs indoors is captured at the tailpipe and led outdoors.
def test_carbon_monoxide_is_led_outdoors_and_its_limit_named() -> None:
    exhaust = next(caution for caution in CAUTIONS if caution.id == "exhaust")
    assert "outdoors" in exhaust.text
    assert "50 ppm over 8 h" in exhaust.source


@pytest.mark.parametrize("step", Step)
def test_every_step_defers_to_the_service_information(step: Step) -> None:
    assert "defer" in shown(step)


def test_every_caution_names_its_source() -> None:
    assert all(caution.source for caution in CAUTIONS)
    assert len({caution.id for caution in CAUTIONS}) == len(CAUTIONS)
