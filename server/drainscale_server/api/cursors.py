"""Where a next page begins, opaque to whoever carries it."""

import base64
import binascii

from drainscale_server.api.problems import Fault, ProblemError

LONGEST = 200


def cursor_of(after: str | None) -> str | None:
    """Wrap what the store wants to be told for the next page."""
    return None if after is None else base64.urlsafe_b64encode(after.encode()).decode().rstrip("=")


def after_of(cursor: str) -> str:
    """Unwrap it.

    Raises:
        ProblemError: 404: not one that was given out.
    """
    try:
        padded = cursor + "=" * (-len(cursor) % 4)
        after = base64.b64decode(padded, b"-_", validate=True).decode()
    except (binascii.Error, ValueError) as error:
        raise no_page() from error
    if cursor_of(after) != cursor:
        raise no_page()
    return after


def no_page() -> ProblemError:
    """There is no page behind this cursor."""
    what = "there is no page behind this cursor"
    return ProblemError(404, what, (Fault("query.after", what),))
