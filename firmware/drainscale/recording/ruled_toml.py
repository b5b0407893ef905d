"""Hold a TOML document against tables of rules: one clear error that says what and where.

The first thing that is wrong raises, with file, line, key, value and what is allowed.
"""

import difflib
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, NoReturn

from drainscale.errors import InputError
from drainscale.recording.toml_lines import find_line, split_place
from drainscale.recording.toml_rules import REQUIRED, Rule, Section

_MAX_QUOTED = 60


def read_text(path: str | Path, error: type[InputError]) -> str:
    """Read a text file.

    Raises:
        InputError: As ``error``: no such file, or not UTF-8.
    """
    try:
        raw = Path(path).read_bytes()
    except OSError as failure:
        reason = (failure.strerror or str(failure)).lower()
        raise error(f"{one_line(path)}: {reason}") from failure
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as failure:
        line = 1 + raw.count(b"\n", 0, failure.start)
        raise error(f"{one_line(path)}, line {line}: not UTF-8 text") from failure


class RuledToml:
    """One file's text while it is held against the rules.

    Args:
        text: The document.
        name: How messages call the file.
        sections: Its tables.
        error: What is raised.
        known_format: The one value that its key ``format`` may have (and has by default).
        tables: What the document says, where it is no TOML; then there is no text.
    """

    def __init__(
        self,
        text: str,
        name: str,
        sections: Mapping[str, Section],
        error: type[InputError],
        known_format: int = 1,
        tables: Mapping[str, Any] | None = None,
    ) -> None:
        self._text = text
        self._given = tables
        self._where = one_line(name)
        self._sections = sections
        self._error = error
        self._format = known_format

    def tables(self) -> dict[str, Any]:
        """Give the tables with the defaults filled in; ``None`` for one that is not there.

        Raises:
            InputError: As ``error``: not TOML, or a key unknown, missing or out of range.
        """
        tables = self._parsed()
        self._check_format(tables.pop("format", self._format))
        self._refuse_unknown("", tables, ("format", *self._sections))
        return {name: self._table(tables, name, rules) for name, rules in self._sections.items()}

    def _parsed(self) -> dict[str, Any]:
        if self._given is not None:
            return dict(self._given)
        try:
            return tomllib.loads(self._text)
        except (ValueError, RecursionError) as error:
            message, line = split_place(str(error))
            place = f", line {line}" if line else ""
            raise self._error(f"{self._where}{place}: not TOML: {one_line(message)}") from error

    def _check_format(self, value: object) -> None:
        if type(value) is not int or value != self._format:
            self._refuse("", "format", value, f"{self._format}, the only one known here")

    def _table(self, tables: Mapping[str, Any], name: str, section: Section) -> Any:
        if name not in tables:
            if section.is_required:
                raise self._error(f"{self._where}: the table [{name}] is missing")
            return None
        table = tables[name]
        if not isinstance(table, dict):
            self._refuse("", name, table, f"a table [{name}]")
        self._refuse_unknown(name, table, section.rules)
        filled = {key: self._value(name, table, key, rule) for key, rule in section.rules.items()}
        for pair in section.pairs:
            if not pair.accepts(filled):
                self._refuse(name, pair.blamed_key, filled[pair.blamed_key], pair.allowed)
        return filled

    def _value(self, section: str, table: Mapping[str, Any], key: str, rule: Rule) -> object:
        if key not in table:
            if rule.default is not REQUIRED:
                return rule.default
            place = self._place(section, None)
            raise self._error(f"{place}: [{section}] lacks the key '{key}': {rule.allowed}")
        if not rule.accepts(table[key]):
            self._refuse(section, key, table[key], rule.allowed)
        return table[key]

    def _refuse_unknown(self, section: str, table: Iterable[str], known: Iterable[str]) -> None:
        names = list(known)
        for key in table:
            if key not in names:
                close = difflib.get_close_matches(key, names, n=1)
                hint = f"; did you mean '{close[0]}'?" if close else ""
                within = f"[{section}] has an " if section else ""
                shown = _shown(key)
                place = self._place(section, key)
                raise self._error(f"{place}: {within}unknown key {shown}{hint}")

    def _refuse(self, section: str, key: str, value: object, allowed: str) -> NoReturn:
        within = f"[{section}] " if section else ""
        given = "is not given" if value is None else f"= {_shown(value)}"
        place = self._place(section, key)
        raise self._error(f"{place}: {within}{key} {given}; allowed: {allowed}")

    def _place(self, section: str, key: str | None) -> str:
        line = find_line(self._text, section, key)
        return self._where if line is None else f"{self._where}, line {line}"


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    try:
        text = ascii(value)
    except ValueError:  # an integer of thousands of digits
        text = "a number of very many digits"
    return text if len(text) <= _MAX_QUOTED else text[: _MAX_QUOTED - 3] + "..."


def one_line(text: str | Path) -> str:
    """Replace what cannot be printed, so that a message stays one line."""
    return "".join(sign if sign.isprintable() else "?" for sign in str(text))
