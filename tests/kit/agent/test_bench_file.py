"""The bench file and the order: what is allowed, and what a wrong one is told."""

from pathlib import Path

import pytest
from tests.kit.agent.benches import BENCH_TOML, ORDER_TOML

from drainscale.agent.bench_file import SECTIONS, Bench, read_bench, read_order
from drainscale.errors import BenchFileError
from drainscale.recording.toml_rules import REQUIRED

REST = """\

[supply_scale]
capacity_kg = 10.0
rate_Hz = 10
calibration_kg = [0.0, 5.0]
calibration_counts = [100000, -2000000]
calibration_u_kg = 0.0003
repeatability_u_kg = 0.0005

[load_cell]
way = "spi"

[signals]
muted = true

[uplink]
host = "broker.example"
port = 8883
username = "bay-1"
password_file = "/etc/drainscale/password"
ca_file = "/etc/drainscale/ca.pem"
takes_orders = true
"""
FULL = BENCH_TOML.replace("capacity_L = 12.0", "capacity_L = 12.0\nstart_L = 0.5") + REST
KEYS = [(section, key) for section, table in SECTIONS.items() for key in table.rules]


def read(tmp_path: Path, text: str) -> Bench:
    path = tmp_path / "bench.toml"
    path.write_text(text, encoding="utf-8")
    return read_bench(path)


def refusal(tmp_path: Path, text: str) -> str:
    with pytest.raises(BenchFileError) as refused:
        read(tmp_path, text)
    return str(refused.value)


def line_of(section: str, key: str) -> int:
    """The line, from 1, of a key in ``FULL``."""
    lines = FULL.splitlines()
    begin = lines.index(f"[{section}]")
    return next(i for i in range(begin, len(lines)) if lines[i].startswith(f"{key} =")) + 1


def with_value(section: str, key: str, value: str | None) -> str:
    lines = FULL.splitlines()
    at = line_of(section, key) - 1
    lines[at : at + 1] = [] if value is None else [f"{key} = {value}"]
    return "\n".join(lines)


def test_shortest_bench_has_the_defaults(tmp_path: Path) -> None:
    bench = read(tmp_path, BENCH_TOML)
    assert (bench.way, bench.is_muted, bench.uplink, bench.supply_scale) == (
        "auto",
        False,
        None,
        None,
    )
    assert bench.scale.calibration_counts == (100000.0, 1173741.0)
    assert bench.container.start_L == 0.0


def test_fullest_bench_is_read_as_it_stands(tmp_path: Path) -> None:
    bench = read(tmp_path, FULL)
    assert (bench.way, bench.is_muted, bench.container.start_L) == ("spi", True, 0.5)
    assert bench.supply_scale is not None
    assert bench.supply_scale.calibration_counts == (100000.0, -2000000.0)
    assert bench.uplink is not None
    assert (bench.uplink.host, bench.uplink.port) == ("broker.example", 8883)


@pytest.mark.parametrize(("section", "key"), KEYS)
def test_value_of_a_wrong_kind_is_refused_with_file_line_key_and_what_is_allowed(
    tmp_path: Path, section: str, key: str
) -> None:
    said = refusal(tmp_path, with_value(section, key, "{}"))
    assert said == (
        f"{tmp_path / 'bench.toml'}, line {line_of(section, key)}: [{section}] {key} = {{}};"
        f" allowed: {SECTIONS[section].rules[key].allowed}"
    )


@pytest.mark.parametrize(
    ("section", "key"),
    [(s, k) for s, k in KEYS if SECTIONS[s].rules[k].default is REQUIRED],
)
def test_required_key_that_is_missing_is_named(tmp_path: Path, section: str, key: str) -> None:
    said = refusal(tmp_path, with_value(section, key, None))
    assert f"[{section}] lacks the key '{key}': {SECTIONS[section].rules[key].allowed}" in said
    assert f"line {FULL.splitlines().index(f'[{section}]') + 1}" in said


@pytest.mark.parametrize(
    ("section", "key", "value"),
    [
        ("bench", "site", '"North"'),
        ("bench", "bench", '"bay_1"'),
        ("bench", "bench", '"-bay"'),
        ("bench", "site", '"a/b"'),
        ("bench", "site", '""'),
        ("scale", "rate_Hz", "0.9"),
        ("scale", "rate_Hz", "321"),
        ("scale", "capacity_kg", "0"),
        ("scale", "calibration_kg", "[0.0]"),
        ("scale", "calibration_kg", "[5.0, 0.0]"),
        ("scale", "calibration_counts", "[1, 1]"),
        ("scale", "calibration_counts", "[1, 2, 3]"),
        ("supply_scale", "calibration_u_kg", "-0.001"),
        ("pan_sensor", "surface_ratio", "1.3"),
        ("pan_sensor", "lag_s", "nan"),
        ("container", "start_L", "12.5"),
        ("load_cell", "way", '"i2c"'),
        ("signals", "muted", '"yes"'),
        ("spool", "folder", '""'),
        ("uplink", "port", "0"),
        ("uplink", "port", "65536"),
        ("uplink", "port", "true"),
        ("uplink", "host", '""'),
    ],
)
def test_value_out_of_bounds_is_refused_at_its_line(
    tmp_path: Path, section: str, key: str, value: str
) -> None:
    said = refusal(tmp_path, with_value(section, key, value))
    assert f"line {line_of(section, key)}: [{section}] {key} = " in said
    assert "; allowed: " in said


@pytest.mark.parametrize(
    ("section", "key", "value"),
    [
        ("scale", "rate_Hz", "1"),
        ("scale", "rate_Hz", "320"),
        ("pan_sensor", "surface_ratio", "1.2"),
        ("uplink", "port", "1"),
        ("uplink", "port", "65535"),
        ("container", "start_L", "12.0"),
    ],
)
def test_value_on_its_bound_is_allowed(tmp_path: Path, section: str, key: str, value: str) -> None:
    assert isinstance(read(tmp_path, with_value(section, key, value)), Bench)


def test_misspelt_key_gets_a_hint(tmp_path: Path) -> None:
    said = refusal(tmp_path, FULL.replace("muted = true", "mutted = true"))
    assert "[signals] has an unknown key 'mutted'; did you mean 'muted'?" in said


def test_section_of_the_job_is_refused_in_the_bench_file(tmp_path: Path) -> None:
    assert "unknown key 'fluid'" in refusal(tmp_path, FULL + ORDER_TOML.split("\n\n")[1])


@pytest.mark.parametrize("name", ["bench", "scale", "pan_sensor", "container", "spool"])
def test_missing_section_is_named(tmp_path: Path, name: str) -> None:
    parts = [part for part in BENCH_TOML.split("\n\n") if not part.startswith(f"[{name}]")]
    assert f"the table [{name}] is missing" in refusal(tmp_path, "\n\n".join(parts))


@pytest.mark.parametrize("key", ["username", "password_file", "ca_file"])
def test_broker_off_this_machine_needs_name_password_and_tls(tmp_path: Path, key: str) -> None:
    said = refusal(tmp_path, with_value("uplink", key, None))
    assert f"line {line_of('uplink', 'host')}: [uplink] lacks the key '{key}'" in said
    assert "broker.example" in said


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1", "127.0.0.2"])
def test_broker_on_this_machine_needs_nothing(tmp_path: Path, host: str) -> None:
    bench = read(tmp_path, BENCH_TOML + f'\n[uplink]\nhost = "{host}"\n')
    assert bench.uplink is not None
    assert bench.uplink.port == 1883


def test_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(BenchFileError, match=r"nowhere\.toml"):
        read_bench(tmp_path / "nowhere.toml")


def test_broken_toml_is_refused_with_its_line(tmp_path: Path) -> None:
    assert "line 2: not TOML" in refusal(tmp_path, "[bench]\nsite = north\n")


def test_order_is_procedure_and_fluid_and_the_bench_is_the_rest(tmp_path: Path) -> None:
    path = tmp_path / "order.toml"
    path.write_text(ORDER_TOML, encoding="utf-8")
    job = read(tmp_path, BENCH_TOML).with_order(read_order(path))
    assert job.procedure.window_C == (35.0, 45.0)
    assert job.fluid.density_kg_per_m3 == 845.0
    assert job.scale.capacity_kg == 20.0
    assert job.supply_scale is None


def test_whole_job_file_serves_as_an_order(tmp_path: Path) -> None:
    whole = Path(__file__).parents[2] / "data/recordings/ordinary-marked.job.toml"
    assert read_order(whole).procedure.level_method == "standpipe"


def test_wrong_order_is_refused_at_its_line(tmp_path: Path) -> None:
    path = tmp_path / "order.toml"
    path.write_text(ORDER_TOML.replace("[35, 45]", "[45, 35]"), encoding="utf-8")
    with pytest.raises(BenchFileError, match=r"order\.toml, line 3: \[procedure\] window_C"):
        read_order(path)
