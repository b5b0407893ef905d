"""The budget asks the core: a recording's own readings give the recording's own U."""

from pathlib import Path

import pytest

from drainscale.budget.draining import Ran, drained_amount, shown_kg
from drainscale.budget.kit import Way, kit_budget
from drainscale.core import Result
from drainscale.errors import QuantityError
from drainscale.quantities.job import Job
from drainscale.recording.job_file import read_job
from drainscale.recording.senml import read_recording
from drainscale.replay.playback import play

RECORDINGS = Path(__file__).parents[2] / "data/recordings"


def replayed(name: str) -> tuple[Job, Result]:
    job = read_job(RECORDINGS / f"{name}.job.toml")
    return job, play(read_recording(RECORDINGS / f"{name}.sensml.gz"), job)


def readings(result: Result) -> list[Ran]:
    """What the budget is told of a replay: readings and temperatures, no uncertainty of mass."""
    ran = []
    for stage, _ in result.stages:
        (weighing,) = stage.weighings
        assert not stage.unweighed
        assert not weighing.excluded_n
        assert stage.fluid is not None
        ran.append(Ran(weighing.from_kg, weighing.to_kg, *stage.fluid))
    return ran


@pytest.mark.parametrize("name", ["check-plug", "ordinary-marked"])  # one stage, two stages
def test_a_replays_readings_give_its_u_and_its_shares(name: str) -> None:
    job, result = replayed(name)
    told = result.to_dict()["drained"]
    volume = drained_amount(job, readings(result)).volume_L
    assert volume.value == pytest.approx(told["volume_L"], abs=1e-6)
    assert pytest.approx(told["U_volume_L"], abs=1e-6) == volume.U
    assert [one.source for one in volume.shares] == [one["source"] for one in told["budget"]]
    assert [one.u for one in volume.shares] == pytest.approx(
        [one["u_L"] for one in told["budget"]], abs=1e-6
    )


def test_the_budget_of_as_many_litres_is_that_of_the_replay() -> None:
    job, result = replayed("check-plug")
    told = result.to_dict()["drained"]
    (ran,) = readings(result)
    way = Way(tare_kg=ran.from_kg, fluid_C=ran.fluid_C, u_fluid_C=ran.u_fluid_C)
    record = kit_budget(job, told["volume_20C_L"], way).record
    assert record.value == pytest.approx(told["volume_L"], abs=3e-6)
    assert pytest.approx(told["U_volume_L"], abs=3e-6) == record.U


def test_what_is_shown_for_a_volume_is_that_volume_again() -> None:
    job, _ = replayed("check-plug")
    ran = Ran(1.2, 1.2 + shown_kg(job, 4.0, 55.0), 55.0, 1.0)
    assert drained_amount(job, [ran]).volume_20C_L.value == pytest.approx(4.0, abs=1e-9)


def test_no_stage_is_refused() -> None:
    job = read_job(RECORDINGS / "check-plug.job.toml")
    with pytest.raises(QuantityError, match="0 stages"):
        drained_amount(job, [])
