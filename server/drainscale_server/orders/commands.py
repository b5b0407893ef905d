"""A command from the board out to its bench, and the wait for the answer.

    answer = await commands.send(bench, command)

Commands go out at once or not at all: what waited would act later than the person meant it.
"""

import asyncio
import secrets
import threading
from collections.abc import Callable

from drainscale.errors import ServerError
from drainscale.messages.codec import encode
from drainscale.messages.telegrams import COMMAND_LIFE_S, Command, CommandAnswer
from drainscale.messages.topics import BenchId

Publish = Callable[[str, bytes, bool], bool]
"""Hands topic and payload to the broker, retained or not; False if it is not there."""

ANSWER_S = COMMAND_LIFE_S  # afterwards the bench refuses it anyway


class NoAnswerError(ServerError):
    """The bench did not answer in time; whether it acted is not known."""


class NoLinkError(ServerError):
    """There is no broker to send by; nothing went out."""


class Commands:
    """Sends commands; within one event loop, but for the answers.

    Args:
        publish: The way to the broker.
        answer_s: How long an answer is waited for.
    """

    def __init__(self, publish: Publish, answer_s: float = ANSWER_S) -> None:
        self._publish = publish
        self._answer_s = answer_s
        self._lock = threading.Lock()
        self._waiting: dict[tuple[BenchId, str], _Wait] = {}

    async def send(self, bench: BenchId, command: Command) -> CommandAnswer:
        """Send one and wait for its answer.

        Raises:
            NoLinkError: Nothing went out.
            NoAnswerError: No answer in time.
        """
        key = (bench, command.id)
        wait = _Wait(asyncio.get_running_loop())
        with self._lock:
            self._waiting[key] = wait
        try:
            topic, payload = bench.topic("command"), encode(command)
            if not await asyncio.to_thread(self._publish, topic, payload, False):
                raise NoLinkError("the broker is not there, nothing was sent")
            return await asyncio.wait_for(wait.future, self._answer_s)
        except TimeoutError:
            raise NoAnswerError(
                f"{bench.site}/{bench.bench} did not answer within {self._answer_s:g} s"
            ) from None
        finally:
            with self._lock:
                del self._waiting[key]

    def on_answer(self, answer: CommandAnswer, bench: BenchId) -> None:
        """Take an answer; from any thread. One that nobody waits for is let go."""
        with self._lock:
            wait = self._waiting.get((bench, answer.id))
            if wait is not None:
                wait.loop.call_soon_threadsafe(wait.take, answer)


class _Wait:
    """One command under way."""

    def __init__(self, loop: asyncio.AbstractEventLoop) -> None:
        self.loop = loop
        self.future: asyncio.Future[CommandAnswer] = loop.create_future()

    def take(self, answer: CommandAnswer) -> None:
        if not self.future.done():
            self.future.set_result(answer)


def new_command_id() -> str:
    """Make an id for one press."""
    return secrets.token_hex(8)
