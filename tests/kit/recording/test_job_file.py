"""Reading and writing job files."""

import dataclasses
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale.errors import DrainscaleError, JobError
from drainscale.quantities.job import (
    Container,
    FluidSheet,
    Job,
    PanSensor,
    ProcedureLimits,
    ScaleSettings,
)
from drainscale.recording.job_file import job_text, parse_job, read_job, write_job

SCALE = ScaleSettings(
    capacity_kg=20.0,
    rate_Hz=10.0,
    calibration_kg=(0.0, 5.0, 10.0),
    calibration_counts=(81234.0, 2180321.0, 4279440.0),
    calibration_u_kg=0.0005,
    repeatability_u_kg=0.0004,
)
WHOLE = Job(
    procedure=ProcedureLimits(
        level_method="standpipe",
        fill_via="check-plug",
        window_C=(35.0, 45.0),
        allowance_L=0.6,
        close_flow_mL_per_min=60.0,
        drip_flow_mL_per_min=3.0,
        approach_K=5.0,
    ),
    fluid=FluidSheet(
        density_kg_per_m3=846.0,
        density_C=15.0,
        density_u_kg_per_m3=1.5,
        viscosity_40C_mm2_per_s=29.5,
        viscosity_100C_mm2_per_s=6.0,
    ),
    scale=SCALE,
    pan_sensor=PanSensor(
        surface_ratio=0.9, surface_ratio_u=0.03, lag_s=25.0, lag_u_s=6.0, sensor_u_C=0.7
    ),
    container=Container(capacity_L=8.0, start_L=0.5),
)


def test_every_key_comes_through(tmp_path: Path, job_toml: str) -> None:
    path = tmp_path / "a.job.toml"
    path.write_text(job_toml)
    assert read_job(path) == WHOLE


def test_whole_numbers_become_floats(job_toml: str) -> None:
    job = parse_job(job_toml, "job")
    assert type(job.scale.rate_Hz) is float
    assert [type(limit) for limit in job.procedure.window_C] == [float, float]


def test_what_may_be_left_out_has_its_default(job_toml: str) -> None:
    optional = ("format", "fill_via", "approach_K", "viscosity", "start_L")
    lines = [line for line in job_toml.splitlines() if not line.startswith(optional)]
    job = parse_job("\n".join(lines), "job")
    assert job.procedure.fill_via == "fill-plug"
    assert job.procedure.approach_K == 3.0
    assert job.fluid.viscosity_40C_mm2_per_s is None
    assert job.fluid.viscosity_100C_mm2_per_s is None
    assert job.container.start_L == 0.0
    assert job.supply_scale is None


def test_second_scale_is_read_like_the_first(job_toml: str) -> None:
    scale = job_toml[job_toml.index("[scale]") : job_toml.index("[pan_sensor]")]
    job = parse_job(job_toml + scale.replace("[scale]", "[supply_scale]"), "job")
    assert job.supply_scale == job.scale == SCALE


def test_falling_counts_are_a_scale_wired_the_other_way_round(job_toml: str) -> None:
    text = job_toml.replace("[81234.0, 2180321.0, 4279440.0]", "[9.0, 5, -7.0]")
    assert parse_job(text, "job").scale.calibration_counts == (9.0, 5.0, -7.0)


def test_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path: Path, job_toml: str) -> None:
    path = tmp_path / "a.job.toml"
    path.write_bytes(b"\xef\xbb\xbf" + job_toml.replace("\n", "\r\n").encode())
    assert read_job(path) == WHOLE


def test_written_job_reads_back_the_same(tmp_path: Path) -> None:
    job = dataclasses.replace(WHOLE, supply_scale=dataclasses.replace(SCALE, rate_Hz=80.0))
    write_job(tmp_path / "a.job.toml", job)
    assert read_job(tmp_path / "a.job.toml") == job


def test_written_job_leaves_unknown_viscosities_out() -> None:
    fluid = FluidSheet(density_kg_per_m3=850.0, density_C=20.0, density_u_kg_per_m3=2.0)
    job = dataclasses.replace(WHOLE, fluid=fluid)
    assert "viscosity" not in job_text(job)
    assert parse_job(job_text(job), "job") == job


@given(
    st.floats(0, 5),
    st.floats(0, 60),
    st.floats(61, 130),
    st.floats(0, 1e300),
    st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=2, unique=True),
)
def test_any_job_within_bounds_reads_back_the_same(
    allowance_L: float, lower_C: float, upper_C: float, u: float, counts: list[float]
) -> None:
    scale = dataclasses.replace(
        SCALE,
        calibration_kg=tuple(float(number) for number in range(len(counts))),
        calibration_counts=tuple(sorted(counts)),
        calibration_u_kg=u,
    )
    procedure = dataclasses.replace(
        WHOLE.procedure, allowance_L=allowance_L, window_C=(lower_C, upper_C)
    )
    job = dataclasses.replace(WHOLE, scale=scale, procedure=procedure)
    assert parse_job(job_text(job), "job") == job


def test_job_out_of_bounds_is_not_written(tmp_path: Path) -> None:
    job = dataclasses.replace(WHOLE, container=Container(capacity_L=5.0, start_L=6.0))
    with pytest.raises(JobError, match="start_L"):
        write_job(tmp_path / "a.job.toml", job)
    assert not (tmp_path / "a.job.toml").exists()


def test_errors_can_be_caught_both_ways() -> None:
    for kind in (DrainscaleError, ValueError):
        with pytest.raises(kind):
            parse_job("", "job")
