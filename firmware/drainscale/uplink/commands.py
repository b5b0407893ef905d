"""Which command from the board counts: in time, for this step, and once. Pure."""

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

import msgspec

from drainscale.errors import DrainscaleError
from drainscale.messages.telegrams import COMMAND_LIFE_S, Command, CommandAnswer

REMEMBERED_N = 256  # ids; a person presses a few dozen times in a service


@dataclass(frozen=True, slots=True)
class Now:
    """Where the kit stands when a command is looked at."""

    now_s: float
    job: str | None
    step: str


class CommandDesk:
    """Judges commands, has the good ones carried out, and answers all of them.

    Args:
        boot: This start of the agent.
        act: Carries a command out. It returns None, or raises a DrainscaleError, whose text then
            is the reason of the refusal: the procedure does not allow it here, perhaps.
    """

    def __init__(self, boot: str, act: Callable[[Command], None]) -> None:
        self._boot = boot
        self._act = act
        self._answers: OrderedDict[str, CommandAnswer] = OrderedDict()

    def handle(self, command: Command, now: Now) -> CommandAnswer:
        """Judge one command and carry it out if it counts."""
        before = self._answers.get(command.id)
        if before is not None:
            return msgspec.structs.replace(before, is_repeat=True)
        reason = refusal(command, now, self._boot) or self._carried_out(command)
        answer = CommandAnswer(
            id=command.id,
            boot=self._boot,
            verdict="refused" if reason else "accepted",
            now_s=now.now_s,
            reason=reason,
        )
        self._answers[command.id] = answer
        if len(self._answers) > REMEMBERED_N:
            self._answers.popitem(last=False)
        return answer

    def _carried_out(self, command: Command) -> str:
        try:
            self._act(command)
        except DrainscaleError as error:
            return str(error) or type(error).__name__
        return ""


def refusal(command: Command, now: Now, boot: str) -> str:
    """Give the reason why a command does not count; empty if it does.

    One that expires further ahead than a command lives was not made from this kit's own clock,
    so nobody can tell how old it is.
    """
    if command.boot != boot:
        return "meant for another start of the kit"
    if now.now_s > command.expires_s:
        return f"late by {now.now_s - command.expires_s:.1f} s"
    if command.expires_s - now.now_s > COMMAND_LIFE_S:
        return f"expires in more than {COMMAND_LIFE_S:g} s"
    if command.job != now.job:
        return f"meant for job {command.job}, this is {now.job}"
    if command.step != now.step:
        return f"meant for step {command.step}, this is {now.step}"
    return ""
