"""Find the line of a key in a TOML text, for messages. Pure.

``tomllib`` does not keep positions, so the text is searched the way a person would. A key
written in an unusual way (inline table, text over several lines) may not be found: the
message then goes without a line.
"""

import re

_HEADER = re.compile(r"\s*\[\s*([^\[\]]+?)\s*\]\s*(#.*)?$")
_KEY = re.compile(r"\s*([A-Za-z0-9_.\-\"' ]+?)\s*=")
_QUOTES = str.maketrans("", "", "\"' ")
_SYNTAX_PLACE = re.compile(r" \(at line (\d+), column (\d+)\)$")


def find_line(text: str, table: str, key: str | None = None) -> int | None:
    """Give the line (from 1) of a key in a table, or of the table's header.

    Args:
        text: The TOML document.
        table: Name of the table; empty for the top level.
        key: Name of the key; None looks for the header.
    """
    present = ""
    wanted = ".".join(part for part in (table, key) if part)
    for number, line in enumerate(text.splitlines(), start=1):
        header = _HEADER.match(line)
        if header:
            present = header[1].translate(_QUOTES)
            if present == wanted:
                return number
            continue
        assigned = _KEY.match(line)
        name = assigned[1].translate(_QUOTES) if assigned else None
        if name and (f"{present}.{name}" if present else name) == wanted:
            return number
    return None


def split_place(message: str) -> tuple[str, int | None]:
    """Split the line off the message of a TOML syntax error."""
    match = _SYNTAX_PLACE.search(message)
    if not match:
        return message, None
    return f"{message[: match.start()]} (column {match[2]})", int(match[1])
