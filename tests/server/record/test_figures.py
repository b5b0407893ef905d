from datetime import timedelta, timezone
from decimal import ROUND_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale_server.record.figures import (
    clock,
    date_and_time,
    grouped,
    litres,
    millilitres,
    quarts,
    rounded_up,
    temperature_F,
    with_u,
)
from drainscale_server.record.model import Reading
from drainscale_server.record.volumes import volume

# NIST Handbook 44, appendix C, and NIST SP 811, B.8: 1 US liquid quart = 0.946 352 946 L, exactly
LITRES_PER_QUART = 0.946352946


def test_a_volume_is_told_in_litres_and_us_liquid_quarts() -> None:
    told = volume(0.946352946 * 3, 0.946352946 * 0.01)
    assert quarts(told) == "3.000 ± 0.010 US qt"
    assert litres(told) == "2.839 ± 0.010 L"


@given(st.floats(0.0, 50.0), st.floats(0.0, 1.0))
def test_quarts_are_litres_over_the_published_factor(value_L: float, U_L: float) -> None:
    told = volume(value_L, U_L)
    assert told.value_qt == pytest.approx(value_L / LITRES_PER_QUART, rel=1e-12)
    assert told.U_qt == pytest.approx(U_L / LITRES_PER_QUART, rel=1e-12)


@given(st.floats(1e-6, 10.0))
def test_an_uncertainty_is_never_told_smaller_than_it_is(U: float) -> None:
    told = rounded_up(U, 3)
    assert told >= U - 1e-9
    assert abs(told - float(Decimal(U).quantize(Decimal("0.001"), ROUND_UP))) <= 0.0010001


@pytest.mark.parametrize(
    ("volume_L", "shown"),
    [(0.0524, "52 ± 3 mL"), (-0.0304, "-30 ± 3 mL"), (1.2, ""), (None, "")],
)
def test_only_a_small_volume_is_told_in_millilitres(volume_L: float | None, shown: str) -> None:
    assert millilitres(volume(volume_L, 0.0029)) == shown


def test_what_was_not_measured_is_no_number() -> None:
    told = volume(None, 0.003)
    assert (litres(told), quarts(told)) == ("not measured", "not measured")
    assert told.U_L is None
    assert temperature_F(Reading(t=1.0, fluid_C=None, U_fluid_C=1.0)) == "not measured"


def test_nothing_is_minus_zero() -> None:
    assert with_u(-0.0001, 0.002, "L", 3) == "0.000 ± 0.002 L"


def test_a_temperature_is_told_in_fahrenheit_with_its_uncertainty_in_steps() -> None:
    # 40 °C is 104 °F; a difference has no offset: 1.5 K are 2.7 °F steps (NIST SP 811, B.8)
    told = temperature_F(Reading(t=0.0, fluid_C=40.0, U_fluid_C=1.5))
    assert told == "40.0 ± 1.5 °C (104.0 ± 2.7 °F)"


@pytest.mark.parametrize(
    ("t_s", "shown"),
    [(0.0, "0:00"), (59.6, "1:00"), (3599.4, "59:59"), (3725.0, "1:02:05"), (None, "not measured")],
)
def test_times_of_the_job_are_minutes_and_seconds(t_s: float | None, shown: str) -> None:
    assert clock(t_s) == shown


def test_an_instant_is_told_with_its_zone() -> None:
    east = timezone(timedelta(hours=2), "EET")
    assert date_and_time(1_800_000_000.0) == "2027-01-15 08:00:00 UTC"
    assert date_and_time(1_800_000_000.0, east) == "2027-01-15 10:00:00 EET"


@pytest.mark.parametrize("at_s", [1e300, -1e300, None])
def test_a_clock_that_says_nonsense_is_no_date(at_s: float | None) -> None:
    assert date_and_time(at_s) == "not told"


def test_large_numbers_stand_in_groups_of_three() -> None:
    assert [grouped(one) for one in (999.0, 128_400.4, 2_000_000.0)] == [
        "999",
        "128 400",
        "2 000 000",
    ]
