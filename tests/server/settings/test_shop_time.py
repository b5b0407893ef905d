"""Instants in the shop's time, against what the zones' own rules say."""

import pytest

from drainscale_server.settings.shop_time import moment, zone_of

# 2026-07-01 12:00:00 and 2026-12-01 12:00:00 UTC
SUMMER_S, WINTER_S = 1_782_907_200.0, 1_796_126_400.0


# IANA time zone database: files europe, northamerica, asia, southamerica (rules from memory)
@pytest.mark.parametrize(
    ("zone", "summer", "winter"),
    [
        ("UTC", "12:00:00 UTC", "12:00:00 UTC"),
        ("Europe/Berlin", "14:00:00 CEST", "13:00:00 CET"),
        ("America/New_York", "08:00:00 EDT", "07:00:00 EST"),
        ("America/Sao_Paulo", "09:00:00 -03", "09:00:00 -03"),  # has no abbreviation
        ("Asia/Kolkata", "17:30:00 IST", "17:30:00 IST"),
    ],
)
def test_a_zone_is_told_by_abbreviation_or_offset(zone: str, summer: str, winter: str) -> None:
    assert moment(SUMMER_S, zone_of(zone)) == f"2026-07-01 {summer}"
    assert moment(WINTER_S, zone_of(zone)) == f"2026-12-01 {winter}"


def test_the_hour_that_comes_twice_is_told_apart() -> None:
    # summer time ends on 2026-10-25 at 01:00 UTC (Directive 2000/84/EC, article 3)
    berlin, ends_s = zone_of("Europe/Berlin"), 1_792_890_000.0
    assert moment(ends_s - 1800.0, berlin) == "2026-10-25 02:30:00 CEST"
    assert moment(ends_s + 1800.0, berlin) == "2026-10-25 02:30:00 CET"


def test_another_day_than_in_utc() -> None:
    night_s = WINTER_S + 12.5 * 3600.0
    assert moment(night_s, zone_of("Pacific/Honolulu")) == "2026-12-01 14:30:00 HST"
    assert moment(WINTER_S, zone_of("Pacific/Auckland")) == "2026-12-02 01:00:00 NZDT"


@pytest.mark.parametrize("at_s", [1e18, -1e18, float("inf"), float("nan")])
def test_what_no_calendar_holds_is_none(at_s: float) -> None:
    assert moment(at_s, zone_of("Europe/Berlin")) is None
