"""Instants in the shop's own time, with the zone beside them. Pure.

Source of the names: IANA time zone database, by way of the system's or of ``tzdata``.
"""

from datetime import UTC, datetime, tzinfo
from zoneinfo import ZoneInfo

UTC_NAME = "UTC"


def is_zone(name: object) -> bool:
    """Tell whether it is the name of a time zone that is known here.

    Example:
        >>> is_zone("Europe/Lisbon"), is_zone("Europe"), is_zone("../zone")
        (True, False, False)
    """
    if not isinstance(name, str):
        return False
    try:
        zone_of(name)
    except (OSError, ValueError, KeyError):  # a folder's, a malformed, an unknown name
        return False
    return True


def zone_of(name: str) -> tzinfo:
    """Give a time zone; UTC needs no database.

    Raises:
        OSError, ValueError, KeyError: There is none of this name.
    """
    return UTC if name == UTC_NAME else ZoneInfo(name)


def moment(at_s: float, zone: tzinfo) -> str | None:
    """Write an instant with its zone's abbreviation, or its offset where it has none.

    Args:
        at_s: s since 1970-01-01 UTC.
        zone: Of the shop.

    Returns:
        None if no calendar goes so far: a kit's clock may say anything.

    Example:
        >>> moment(1_795_000_000.0, zone_of("Europe/Lisbon"))
        '2026-11-18 11:06:40 WET'
    """
    try:
        shown = datetime.fromtimestamp(at_s, zone)
    except (OverflowError, OSError, ValueError):
        return None
    return f"{shown:%Y-%m-%d %H:%M:%S} {shown.tzname()}"
