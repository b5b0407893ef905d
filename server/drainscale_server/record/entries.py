"""What people put on the record, read by name and type. Pure.

Entries are checked when they are made; here what is of another type than it should be (an older
server's, perhaps) counts as not told rather than breaking the page.
"""

from collections.abc import Mapping
from math import isfinite
from typing import Any

import msgspec

from drainscale_server.record.model import Torque


class Entries:
    """The latest value of each key.

    Args:
        values: By key.
    """

    def __init__(self, values: Mapping[str, Any]) -> None:
        self._values = values

    def text(self, key: str) -> str | None:
        """A text; None if it was not told or holds nothing but blanks."""
        value = self._values.get(key)
        return value.strip() or None if isinstance(value, str) else None

    def number(self, key: str) -> float | None:
        """A finite number."""
        value = self._values.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
            return None
        return float(value)

    def texts(self, key: str) -> list[str] | None:
        """A list of texts; an empty one means "none"."""
        value = self._values.get(key)
        if not isinstance(value, list):
            return None
        return [one.strip() for one in value if isinstance(one, str) and one.strip()]

    def torques(self, key: str) -> list[Torque] | None:
        """A list of parts and torques."""
        try:
            told = msgspec.convert(self._values.get(key), list[Torque])
        except msgspec.ValidationError:
            return None
        return [one for one in told if isfinite(one.torque_Nm)]
