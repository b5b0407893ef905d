"""A tiny service, as text and as job, that the tests of this room break in many ways."""

import pytest

BASE = '{"bn":"urn:dev:ops:bench-7:","bt":1790176804,"bver":10}'
SMALL = (
    BASE,
    '{"n":"scale","u":"count","t":0.017,"v":208512}',
    '{"n":"pan","u":"Cel","t":0.1,"v":18.50}',
    '{"n":"board","u":"Cel","t":0.1,"v":18.0625}',
    '{"n":"step","t":0.5,"vs":"drain"}',
    '{"n":"pan-fault","t":0.6,"vs":"open"}',
    '{"n":"supply","u":"count","t":0.75,"v":-42}',
    '{"n":"reference","u":"Cel","t":1,"v":21}',
    '{"n":"added","u":"l","t":2.25,"v":0.35}',
)

JOB = """\
format = 1
[procedure]
level_method = "standpipe"
fill_via = "check-plug"
window_C = [35.0, 45]
allowance_L = 0.60
close_flow_mL_per_min = 60.0
drip_flow_mL_per_min = 3.0
approach_K = 5.0
[fluid]
density_kg_per_m3 = 846.0
density_C = 15.0
density_u_kg_per_m3 = 1.5
viscosity_40C_mm2_per_s = 29.5
viscosity_100C_mm2_per_s = 6.0
[scale]
capacity_kg = 20.0
rate_Hz = 10
calibration_kg = [0.0, 5.0, 10.0]
calibration_counts = [81234.0, 2180321.0, 4279440.0]
calibration_u_kg = 0.0005
repeatability_u_kg = 0.0004
[pan_sensor]
surface_ratio = 0.90
surface_ratio_u = 0.03
lag_s = 25.0
lag_u_s = 6.0
sensor_u_C = 0.7
[container]
capacity_L = 8.0
start_L = 0.5
"""


@pytest.fixture
def lines() -> list[str]:
    """Give the records of the small recording, base record first."""
    return list(SMALL)


@pytest.fixture
def small() -> bytes:
    """Give the small recording as a file's bytes."""
    return ("[" + ",\n".join(SMALL) + "\n]\n").encode()


@pytest.fixture
def job_toml() -> str:
    """Give a complete job file's text."""
    return JOB
