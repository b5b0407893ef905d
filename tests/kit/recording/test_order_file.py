import pytest

from drainscale.errors import JobError
from drainscale.recording.order_file import order_text, parse_order

TEXT = """
[procedure]
level_method = "standpipe"
window_C = [35, 45.0]
allowance_L = 0.6
close_flow_mL_per_min = 60.0
drip_flow_mL_per_min = 3.0
[fluid]
density_kg_per_m3 = 846.0
density_C = 15.0
density_u_kg_per_m3 = 1.5
"""


def test_an_order_is_written_as_it_is_read() -> None:
    order = parse_order(TEXT, "order.toml", JobError)
    assert order.procedure.approach_K == 3.0
    assert order.fluid.viscosity_40C_mm2_per_s is None
    assert parse_order(order_text(order), "written", JobError) == order


def test_what_a_job_file_says_of_the_bench_is_checked_and_left_aside() -> None:
    container = "[container]\ncapacity_L = 8.0\n"
    assert parse_order(TEXT + container, "o", JobError) == parse_order(TEXT, "o", JobError)
    with pytest.raises(JobError, match=r"o, line 13: \[container\] capacity_L = -1"):
        parse_order(TEXT + "[container]\ncapacity_L = -1\n", "o", JobError)


def test_a_missing_table_is_named() -> None:
    with pytest.raises(JobError, match=r"the table \[fluid\] is missing"):
        parse_order(TEXT.partition("[fluid]")[0], "order.toml", JobError)
