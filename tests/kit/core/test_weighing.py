"""The books: differences of readings, less what was no fluid, plus what fell beside."""

import pytest

from drainscale.core.weighing import Jug, Stage, Unweighed, Weighing
from drainscale.procedure.steps import Step


def test_a_load_gains_the_difference_of_its_readings() -> None:
    assert Weighing(0.9, 3.1).gained_kg == pytest.approx(2.2)


def test_a_tool_that_was_laid_down_and_taken_away_again_leaves_the_books_as_they_were() -> None:
    weighing = Weighing(0.9, 3.1)
    weighing.exclude(0.35)
    assert weighing.gained_kg == pytest.approx(1.85)
    weighing.exclude(-0.35)
    assert weighing.gained_kg == pytest.approx(2.2)
    assert weighing.excluded_n == 2


def test_a_stage_is_all_that_its_containers_gained_and_what_fell_beside() -> None:
    stage = Stage(Step.DRAIN, 10.0, 0.05, [Weighing(0.9, 2.9), Weighing(1.4, 1.9)])
    stage.unweighed.append(Unweighed(0.12, 0.06))
    assert stage.gained_kg == pytest.approx(2.62)


def test_a_jug_loses_what_its_reading_loses() -> None:
    jug = Jug(Weighing(4.6, 2.1))
    assert jug.lost_kg == pytest.approx(2.5)
    jug.weighing.exclude(0.5)
    assert jug.lost_kg == pytest.approx(3.0)


def test_the_fluids_temperature_counts_by_what_ran_at_it() -> None:
    """2 kg at 20 °C, then 1 kg at 50 °C: 30 °C on the mean."""
    stage = Stage(Step.DRAIN, 0.0, 0.05)
    stage.note_fluid(20.0, 1.0, 2.0)
    stage.note_fluid(50.0, 4.0, 3.0)
    assert stage.fluid == pytest.approx((30.0, 2.0), abs=1e-6)


def test_a_reading_that_falls_back_does_not_count_twice() -> None:
    stage = Stage(Step.DRAIN, 0.0, 0.05)
    for gained_kg, fluid_C in ((2.0, 20.0), (1.0, 90.0), (2.0, 90.0)):
        stage.note_fluid(fluid_C, 1.0, gained_kg)
    assert stage.fluid == pytest.approx((20.0, 1.0), abs=1e-5)


def test_a_stage_without_a_look_at_the_fluid_knows_none() -> None:
    assert Stage(Step.DRAIN, 0.0, 0.05).fluid is None
