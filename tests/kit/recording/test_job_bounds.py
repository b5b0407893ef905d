"""Every bound of a job file, from both sides, and the message at each refusal."""

import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drainscale.errors import JobError
from drainscale.recording.job_file import parse_job, read_job
from drainscale.recording.job_rules import SECTIONS


def refusal(text: str) -> str:
    with pytest.raises(JobError) as caught:
        parse_job(text, "a.job.toml")
    message = str(caught.value)
    assert message.startswith("a.job.toml")
    assert "\n" not in message
    assert len(message) < 250
    return message


def with_value(toml: str, key: str, value: str) -> str:
    """Give the job with another value for one key."""
    text, count = re.subn(rf"(?m)^{key} = .*$", lambda _: f"{key} = {value}", toml)
    assert count == 1
    return text


AT_THE_BOUND = [
    ("level_method", ['"standpipe"', '"check-plug"']),
    ("fill_via", ['"fill-plug"', '"check-plug"']),
    ("window_C", ["[0, 130]", "[0.0, 0.1]", "[129.9, 130.0]"]),
    ("allowance_L", ["0", "5"]),
    ("close_flow_mL_per_min", ["3.0001", "2000"]),
    ("drip_flow_mL_per_min", ["1e-9", "59.9"]),
    ("approach_K", ["0", "30"]),
    ("density_kg_per_m3", ["600", "1200"]),
    ("density_C", ["-20", "110"]),
    ("density_u_kg_per_m3", ["0", "50"]),
    ("viscosity_40C_mm2_per_s", ["6.1", "1000"]),
    ("viscosity_100C_mm2_per_s", ["1", "29.4"]),
    ("capacity_kg", ["1e-9", "500"]),
    ("rate_Hz", ["1", "320"]),
    ("calibration_kg", ["[-1, 0, 600]"]),
    ("calibration_counts", ["[3, 2, 1]", "[-8388608, 0, 8388607]"]),
    ("calibration_u_kg", ["0", "1e9"]),
    ("repeatability_u_kg", ["0", "1e9"]),
    ("surface_ratio", ["1e-9", "1.2"]),
    ("surface_ratio_u", ["0"]),
    ("lag_s", ["0", "600"]),
    ("lag_u_s", ["0"]),
    ("sensor_u_C", ["0"]),
    ("capacity_L", ["0.5", "1e6"]),
    ("start_L", ["0", "8.0"]),
]
BEYOND_THE_BOUND = [
    ("level_method", ['"dipstick"', '"Standpipe"', '""', "1"]),
    ("fill_via", ['"funnel"', "true"]),
    ("window_C", ["[45, 35]", "[35, 35]", "[35]", "[35, 40, 45]", "[-0.1, 45]", "[35, 130.1]",
                  "35", '["35", "45"]', "[true, 45]", "[35, inf]", "[nan, 45]"]),
    ("allowance_L", ["-0.001", "5.001"]),
    ("close_flow_mL_per_min", ["0", "2000.1", "-1"]),
    ("drip_flow_mL_per_min", ["0", "60.0", "61", "-3"]),
    ("approach_K", ["-0.1", "30.1"]),
    ("density_kg_per_m3", ["599.9", "1200.1", "0.846"]),
    ("density_C", ["-20.1", "110.1"]),
    ("density_u_kg_per_m3", ["-0.1", "50.1"]),
    ("viscosity_40C_mm2_per_s", ["6.0", "0.9", "1000.1"]),
    ("viscosity_100C_mm2_per_s", ["29.5", "0.9", "1000.1"]),
    ("capacity_kg", ["0", "500.1", "-20"]),
    ("rate_Hz", ["0.9", "320.1"]),
    ("calibration_kg", ["[0]", "[]", "[0, 5]", "[0, 5, 5]", "[0, 10, 5]", "[0, 5, true]", "5",
                        "[0, 5, 10, 15]"]),
    ("calibration_counts", ["[1]", "[1, 2]", "[1, 2, 2]", "[1, 3, 2]", '[1, 2, "3"]',
                            "[9007199254740992, 9007199254740993, 9007199254740996]"]),
    ("calibration_u_kg", ["-1e-9"]),
    ("repeatability_u_kg", ["-1e-9"]),
    ("surface_ratio", ["0", "1.21", "-0.9"]),
    ("surface_ratio_u", ["-0.01"]),
    ("lag_s", ["-0.1", "600.1"]),
    ("lag_u_s", ["-0.1"]),
    ("sensor_u_C", ["-0.1"]),
    ("capacity_L", ["0", "-8"]),
    ("start_L", ["-0.1", "8.1"]),
]  # fmt: skip
# where two keys bind each other, the message is about one of them
NAMED_INSTEAD = {
    "close_flow_mL_per_min": "drip_flow_mL_per_min",
    "calibration_kg": "calibration_counts",
    "viscosity_40C_mm2_per_s": "viscosity_100C_mm2_per_s",
}
NUMBERS = [key for key, values in AT_THE_BOUND if values[0][0] not in '"[']


def spread(cases: list[tuple[str, list[str]]]) -> list[tuple[str, str]]:
    return [(key, value) for key, values in cases for value in values]


def test_every_key_has_both_of_its_bounds_tested() -> None:
    known = {key for section in SECTIONS.values() for key in section.rules}
    assert {key for key, _ in AT_THE_BOUND} == {key for key, _ in BEYOND_THE_BOUND} == known


@pytest.mark.parametrize(("key", "value"), spread(AT_THE_BOUND))
def test_value_at_the_bound_is_taken(job_toml: str, key: str, value: str) -> None:
    parse_job(with_value(job_toml, key, value), "job")


@pytest.mark.parametrize(("key", "value"), spread(BEYOND_THE_BOUND))
def test_value_beyond_the_bound_is_refused_by_name(job_toml: str, key: str, value: str) -> None:
    message = refusal(with_value(job_toml, key, value))
    assert "allowed:" in message
    assert key in message or NAMED_INSTEAD.get(key, key) in message


@pytest.mark.parametrize("key", NUMBERS)
@pytest.mark.parametrize("value", ["true", '"1"', "nan", "inf", "-inf", "[1.0]", "{a = 1}",
                                   "2026-11-25", "1" + "0" * 400, "0x" + "F" * 5000])  # fmt: skip
def test_what_is_no_finite_number_is_refused(job_toml: str, key: str, value: str) -> None:
    message = refusal(with_value(job_toml, key, value))
    assert f"{key} = " in message
    assert "allowed: a number" in message


def test_refusal_names_file_line_key_value_and_what_is_allowed(job_toml: str) -> None:
    assert refusal(with_value(job_toml, "allowance_L", "7.5")) == (
        "a.job.toml, line 6: [procedure] allowance_L = 7.5; allowed: a number from 0 to 5"
    )


@pytest.mark.parametrize(
    ("wrong", "right"),
    [("alowance_L", "allowance_L"), ("capacity_l", "capacity_L"), ("lag", "lag_s")],
)
def test_unknown_key_is_refused_with_the_nearest_known_one(
    job_toml: str, wrong: str, right: str
) -> None:
    text = re.sub(rf"(?m)^{right} =", f"{wrong} =", job_toml)
    message = refusal(text)
    assert f"unknown key '{wrong}'; did you mean '{right}'?" in message
    line = text.splitlines().index(next(t for t in text.splitlines() if t.startswith(wrong + " ")))
    assert f"line {line + 1}:" in message


@pytest.mark.parametrize("extra", ["[vehicle]\nmileage = 1", "[vehicle]", "torque_Nm = 9"])
def test_unknown_table_or_key_at_the_top_is_refused(job_toml: str, extra: str) -> None:
    name = "vehicle" if extra.startswith("[") else "torque_Nm"
    assert f"unknown key '{name}'" in refusal(
        f"{extra}\n{job_toml}" if name != "vehicle" else job_toml + extra
    )


def required_keys() -> list[str]:
    optional = {
        "fill_via",
        "approach_K",
        "start_L",
        "viscosity_40C_mm2_per_s",
        "viscosity_100C_mm2_per_s",
    }
    return [key for key, _ in AT_THE_BOUND if key not in optional]


@pytest.mark.parametrize("key", required_keys())
def test_required_key_that_is_missing_is_named(job_toml: str, key: str) -> None:
    assert f"lacks the key '{key}'" in refusal(re.sub(rf"(?m)^{key} = .*$", "", job_toml))


@pytest.mark.parametrize("table", ["procedure", "fluid", "scale", "pan_sensor", "container"])
def test_required_table_that_is_missing_is_named(job_toml: str, table: str) -> None:
    text = re.sub(rf"(?s)\[{table}\].*?(?=\n\[|\Z)", "", job_toml)
    assert f"[{table}] is missing" in refusal(text)


@pytest.mark.parametrize("table", ["scale", "supply_scale"])
@pytest.mark.parametrize("value", ["5", "[1]", '"x"'])
def test_table_that_is_none_is_refused(job_toml: str, table: str, value: str) -> None:
    text = (
        re.sub(r"(?s)\[scale\].*?(?=\[pan_sensor)", "", job_toml) if table == "scale" else job_toml
    )
    assert f"{table} = " in refusal(f"{table} = {value}\n{text}")


def test_list_of_tables_is_refused(job_toml: str) -> None:
    assert "scale = " in refusal(job_toml.replace("[scale]", "[[scale]]"))


@pytest.mark.parametrize("key", ["viscosity_40C_mm2_per_s", "viscosity_100C_mm2_per_s"])
def test_one_viscosity_alone_is_refused(job_toml: str, key: str) -> None:
    assert "together with the other" in refusal(re.sub(rf"(?m)^{key} = .*$", "", job_toml))


@pytest.mark.parametrize("value", ["2", "0", "1.0", "true", '"1"'])
def test_other_format_is_refused(job_toml: str, value: str) -> None:
    message = refusal(with_value(job_toml, "format", value))
    assert "format = " in message
    assert "line 1:" in message


def test_second_scale_has_the_same_bounds(job_toml: str) -> None:
    scale = job_toml[job_toml.index("[scale]") : job_toml.index("[pan_sensor]")]
    second = scale.replace("[scale]", "[supply_scale]").replace("rate_Hz = 10", "rate_Hz = 500")
    message = refusal(job_toml + second)
    assert "[supply_scale] rate_Hz = 500" in message
    assert "line 34:" in message


def test_syntax_error_is_refused_with_its_line(job_toml: str) -> None:
    message = refusal(job_toml.replace("lag_s = 25.0", "lag_s 25.0"))
    assert "line 26: not TOML" in message


@pytest.mark.parametrize(
    "text", ["a = " + "[" * 5000, "a = " + "1" * 5000, "a = 2026-99-99", "a = 1\na = 2"]
)
def test_odd_toml_is_refused_in_one_line(text: str) -> None:
    assert "not TOML" in refusal(text)


def test_text_that_is_not_utf8_is_refused_with_its_line(tmp_path: Path, job_toml: str) -> None:
    path = tmp_path / "a.job.toml"
    path.write_bytes(job_toml.encode() + b"# caf\xe9\n")
    with pytest.raises(JobError, match=r"line 32: not UTF-8"):
        read_job(path)


def test_missing_file_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(JobError, match=r"nowhere\.toml: no such file"):
        read_job(tmp_path / "nowhere.toml")


def test_folder_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="is a directory"):
        read_job(tmp_path)


def test_key_in_an_inline_table_is_refused_even_without_its_line(job_toml: str) -> None:
    head = job_toml[: job_toml.index("[container]")]
    message = refusal("container = {capacity_L = 0}\n" + head)
    assert "[container] capacity_L = 0;" in message


@given(st.text(max_size=80))
def test_no_text_raises_anything_but_a_job_error(text: str) -> None:
    with pytest.raises(JobError):
        parse_job(text, "job")


keys = st.sampled_from(sorted(key for section in SECTIONS.values() for key in section.rules))
values = st.one_of(
    st.integers().map(str),
    st.floats().map(repr),
    st.lists(st.floats().map(repr), max_size=4).map(lambda items: f"[{', '.join(items)}]"),
    st.sampled_from(["true", '"check-plug"', "[[]]", "{}", "07:30:00", "''"]),
)


@given(keys, values)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])  # it is a constant
def test_no_value_raises_anything_but_a_job_error(job_toml: str, key: str, value: str) -> None:
    try:
        parse_job(with_value(job_toml, key, value), "job")
    except JobError as error:
        message = str(error)
    else:
        return
    assert "\n" not in message
