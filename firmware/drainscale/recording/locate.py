"""Find the line of a fault in a recording: slow, exact, and used only when there is one.

The fast decoder says that something is wrong and not always where. Here the array is
walked element by element, so that the message can name the line and the reason.
"""

import json
import math
import re
from collections.abc import Iterator
from typing import NamedTuple

import msgspec

from drainscale.recording.records import Record

_BLANK = re.compile(r"[ \t\n\r]*")  # what JSON calls white space
_MAX_QUOTED = 40


class FaultError(ValueError):
    """Why a recording cannot be read, and in which line (None: the file as a whole)."""

    def __init__(self, why: str, line: int | None = None) -> None:
        super().__init__(why)
        self.why = why
        self.line = line


class Element(NamedTuple):
    """One element of the array and the line (from 1) where it starts."""

    line: int
    value: object


def quoted(value: object) -> str:
    """Show a foreign value in a message: one line, not too long, no control characters."""
    text = ascii(value)
    return text if len(text) <= _MAX_QUOTED else text[: _MAX_QUOTED - 3] + "..."


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise FaultError(f"{quoted(text)} is not a finite number")
    return number


def _not_finite(text: str) -> float:
    raise FaultError(f"{text} is not a finite number")


_LENIENT = json.JSONDecoder(parse_float=_finite, parse_constant=_not_finite)


def is_whole_line(line: bytes) -> bool:
    """Tell whether a last line is not cut: a closing bracket or a complete JSON object."""
    if line.strip() == b"]":
        return True
    body = line.strip().removeprefix(b"[").lstrip(b", \t").removesuffix(b"]").rstrip(b", \t\r\n")
    try:
        return isinstance(json.loads(body), dict)
    except (ValueError, RecursionError):
        return False


def elements(data: bytes) -> Iterator[Element]:
    """Walk the elements of a JSON array.

    Raises:
        FaultError: At the first place that is not JSON, or has a number that is not finite.
    """
    text = _decoded(data)
    position = _expect(text, 0, "[", "a recording starts with '['")
    position, line = _skip_blank(text, position, 1 + text.count("\n", 0, position))
    if text.startswith("]", position):
        return
    while True:
        value, end = _value_at(text, position, line)
        yield Element(line, value)
        line += text.count("\n", position, end)
        position, line = _skip_blank(text, end, line)
        if text.startswith("]", position):
            _expect_end(text, position + 1, line)
            return
        if not text.startswith(",", position):
            raise FaultError("malformed: ',' or ']' expected after a record", line)
        position, line = _skip_blank(text, position + 1, line)


def find_fault(data: bytes) -> FaultError:
    """Find the first element that is no JSON or no SenML record."""
    try:
        for line, value in elements(data):
            why = _record_fault(value)
            if why:
                return FaultError(f"malformed record: {why}", line)
    except FaultError as fault:
        return fault
    return FaultError("malformed")


def _record_fault(value: object) -> str | None:
    try:
        msgspec.convert(value, Record)
    except msgspec.ValidationError as error:
        return str(error)
    return None


def line_of(data: bytes, index: int) -> int | None:
    """Give the line (from 1) where the array's element ``index`` starts, if it can be found."""
    try:
        for position, element in enumerate(elements(data)):
            if position == index:
                return element.line
    except FaultError:  # a torn tail; the element looked for stands before it
        pass
    return None


def _decoded(data: bytes) -> str:
    try:
        return data.decode()
    except UnicodeDecodeError as error:
        line = 1 + data.count(b"\n", 0, error.start)
        raise FaultError("malformed: not UTF-8 text", line) from error


def _value_at(text: str, position: int, line: int) -> tuple[object, int]:
    try:
        return _LENIENT.raw_decode(text, position)
    except FaultError as fault:
        raise FaultError(fault.why, line) from None
    except json.JSONDecodeError as error:
        raise FaultError(f"malformed: {error.msg}", error.lineno) from None
    except (ValueError, RecursionError):  # a number of thousands of digits, brackets without end
        raise FaultError("malformed record", line) from None


def _skip_blank(text: str, position: int, line: int) -> tuple[int, int]:
    match = _BLANK.match(text, position)
    end = match.end() if match else position
    return end, line + text.count("\n", position, end)


def _expect(text: str, position: int, sign: str, why: str) -> int:
    position, line = _skip_blank(text, position, 1)
    if not text.startswith(sign, position):
        raise FaultError(f"malformed: {why}", line)
    return position + len(sign)


def _expect_end(text: str, position: int, line: int) -> None:
    end, line = _skip_blank(text, position, line)
    if end < len(text):
        raise FaultError("malformed: something follows the closing ']'", line)
