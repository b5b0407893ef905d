from typing import Any

import pytest

from drainscale.errors import ProcedureError
from drainscale.messages.telegrams import Command
from drainscale.uplink.commands import REMEMBERED_N, CommandDesk, Now

NOW = Now(now_s=100.0, job="j-1", step="level")


class Deeds:
    """Does what a command asks, or refuses as the procedure would."""

    def __init__(self) -> None:
        self.done: list[str] = []
        self.refuses = False

    def act(self, command: Command) -> None:
        if self.refuses:
            raise ProcedureError("back: not in the table here")
        self.done.append(command.id)


def command(**fields: Any) -> Command:
    usual: dict[str, Any] = {"id": "c1", "boot": "b1", "job": "j-1", "step": "level",
                             "command": "confirm", "expires_s": 104.0}  # fmt: skip
    return Command(**usual | fields)


def test_a_command_in_time_and_for_this_step_is_carried_out() -> None:
    deeds = Deeds()
    answer = CommandDesk("b1", deeds.act).handle(command(), NOW)
    assert (answer.verdict, answer.reason, answer.is_repeat) == ("accepted", "", False)
    assert deeds.done == ["c1"]


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"expires_s": 99.9}, "late by 0.1 s"),
        ({"expires_s": 105.1}, "expires in more than 5 s"),
        ({"boot": "b0"}, "another start"),
        ({"job": "j-0"}, "meant for job j-0"),
        ({"job": None}, "meant for job None"),
        ({"step": "warm"}, "meant for step warm, this is level"),
    ],
)
def test_any_other_command_is_refused_and_changes_nothing(fields: dict[str, Any], why: str) -> None:
    deeds = Deeds()
    answer = CommandDesk("b1", deeds.act).handle(command(**fields), NOW)
    assert answer.verdict == "refused"
    assert why in answer.reason
    assert deeds.done == []


@pytest.mark.parametrize("expires_s", [100.0, 105.0])
def test_the_five_seconds_count_with_both_ends(expires_s: float) -> None:
    deeds = Deeds()
    CommandDesk("b1", deeds.act).handle(command(expires_s=expires_s), NOW)
    assert deeds.done == ["c1"]


def test_what_the_procedure_refuses_is_refused_with_its_words() -> None:
    deeds = Deeds()
    deeds.refuses = True
    answer = CommandDesk("b1", deeds.act).handle(command(command="back"), NOW)
    assert (answer.verdict, answer.reason) == ("refused", "back: not in the table here")


def test_a_command_that_comes_twice_is_carried_out_once_and_answered_the_same() -> None:
    deeds = Deeds()
    desk = CommandDesk("b1", deeds.act)
    first = desk.handle(command(), NOW)
    again = desk.handle(command(), Now(now_s=500.0, job="j-1", step="seal"))
    assert deeds.done == ["c1"]
    assert again.is_repeat
    assert (again.verdict, again.now_s) == (first.verdict, first.now_s)


def test_a_refused_command_is_not_carried_out_when_it_comes_again() -> None:
    deeds = Deeds()
    desk = CommandDesk("b1", deeds.act)
    desk.handle(command(step="seal"), NOW)
    desk.handle(command(step="seal"), Now(now_s=101.0, job="j-1", step="seal"))
    assert deeds.done == []


def test_the_memory_for_ids_has_an_end_longer_than_any_command_lives() -> None:
    deeds = Deeds()
    desk = CommandDesk("b1", deeds.act)
    for number in range(REMEMBERED_N + 1):
        desk.handle(command(id=f"c{number}"), NOW)
    desk.handle(command(id="c1"), NOW)
    assert deeds.done.count("c1") == 1
