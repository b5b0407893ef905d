"""Where a next page begins, opaque to whoever carries it."""

import base64
import binascii

from drainscale_server.api.problems import Fault, ProblemError

LONGEST = 200


def cursor_of(after: str | None) -> str | None:
    """Wrap what the store wants to be told for the next page."""
    return None if after is None else base64.urlsafe_b64encode(after.encode()).decode().rstrip("=")


def after_of(cursor: str | None) -> str | None:
    """Unwrap it.

    Raises:
        ProblemError: 422: not one that was given out.
    """
    if cursor is None:
        return None
    try:
        padded = cursor + "=" * (-len(cursor) % 4)
        after = base64.b64decode(padded, b"-_", validate=True).decode()
    except (binascii.Error, ValueError) as error:
        raise _unknown() from error
    if cursor_of(after) != cursor:
        raise _unknown()
    return after


def _unknown() -> ProblemError:
    what = "not a cursor of this server"
    return ProblemError(422, f"after: {what}", (Fault("query.after", what),))
