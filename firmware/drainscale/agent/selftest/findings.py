"""What the self-test says: one line for each check, and what to mend."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, Protocol

Verdict = Literal["ok", "FAIL", "not asked"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One check of one part of the bench.

    ``not asked``: it needs a person, and nobody was asked; it is no failure and no proof.
    """

    part: str
    check: str
    verdict: Verdict
    said: str
    mend: str = ""

    def line(self) -> str:
        """Write it as one line for the person at the bench."""
        text = f"{self.verdict:9} {self.part:12} {self.check:12} {self.said}"
        return f"{text}; {self.mend}" if self.verdict == "FAIL" and self.mend else text


@dataclass(frozen=True, slots=True)
class Part:
    """Makes the findings of one part of the bench."""

    name: str

    def judge(self, check: str, is_ok: bool, said: str, mend: str) -> Finding:
        """Make a finding; ``mend`` says what to do if it failed."""
        return Finding(self.name, check, "ok" if is_ok else "FAIL", said, mend)

    def fail(self, check: str, said: str, mend: str = "") -> Finding:
        """Make a finding that something is wrong."""
        return Finding(self.name, check, "FAIL", said, mend)

    def not_asked(self, check: str, said: str) -> Finding:
        """Make a finding that nobody was asked."""
        return Finding(self.name, check, "not asked", said)


Findings = Iterator[Finding]


class Person(Protocol):
    """Who stands at the bench while it is tested."""

    @property
    def is_there(self) -> bool:
        """Whether anybody answers."""
        ...

    def confirms(self, question: str) -> bool:
        """Ask something that is answered by yes or no."""
        ...

    def does(self, request: str) -> None:
        """Ask for something to be done; returns when it is done."""
        ...

    def is_told(self, notice: str) -> None:
        """Tell something that needs no answer."""
        ...


class Nobody:
    """A ``Person`` who is not there: nothing is asked."""

    is_there = False

    def confirms(self, question: str) -> bool:
        """Fail: whoever asks looks first whether anybody is there."""
        raise AssertionError(f"nobody is there to ask: {question}")

    def does(self, request: str) -> None:
        """Fail: as ``confirms``."""
        raise AssertionError(f"nobody is there to do it: {request}")

    def is_told(self, notice: str) -> None:
        """Let it pass unheard."""
