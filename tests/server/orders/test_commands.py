import asyncio
import threading

import msgspec
import pytest
from tests.kit.uplink.made_up import BAY_3

from drainscale.messages.telegrams import Command, CommandAnswer
from drainscale.messages.topics import BenchId
from drainscale_server.orders.commands import (
    Commands,
    NoAnswerError,
    NoLinkError,
    new_command_id,
)

BAY_4 = BenchId("north", "bay-4")


def command(name: str) -> Command:
    return Command(id=name, boot="b1", step="drain", command="confirm", expires_s=5.0)


def answer(name: str, reason: str = "") -> CommandAnswer:
    return CommandAnswer(id=name, boot="b1", verdict="accepted", now_s=1.0, reason=reason)


def test_each_command_gets_its_own_answer_whatever_the_order() -> None:
    async def both() -> list[CommandAnswer]:
        sent: list[str] = []

        def publish(_topic: str, payload: bytes, _is_retained: bool) -> bool:
            sent.append(msgspec.json.decode(payload, type=Command).id)
            if len(sent) == 2:  # both are out: answer the later one first
                for name in reversed(sent):
                    commands.on_answer(answer(name, f"of {name}"), BAY_3)
            return True

        commands = Commands(publish)
        return list(
            await asyncio.gather(*(commands.send(BAY_3, command(name)) for name in ("one", "two")))
        )

    assert [told.reason for told in asyncio.run(both())] == ["of one", "of two"]


def test_the_same_id_on_another_bench_is_another_command() -> None:
    async def alone() -> None:
        commands = Commands(lambda *_: True, answer_s=0.02)
        waiting = asyncio.create_task(commands.send(BAY_3, command("one")))
        await asyncio.sleep(0)
        commands.on_answer(answer("one"), BAY_4)
        await waiting

    with pytest.raises(NoAnswerError, match="north/bay-3 did not answer"):
        asyncio.run(alone())


def test_without_a_broker_it_is_told_at_once_and_nothing_waits() -> None:
    commands = Commands(lambda *_: False)
    with pytest.raises(NoLinkError, match="nothing was sent"):
        asyncio.run(commands.send(BAY_3, command("one")))
    commands.on_answer(answer("one"), BAY_3)  # nobody waits: harmless


def test_an_answer_from_another_thread_and_its_repeat_do_no_harm() -> None:
    async def told() -> CommandAnswer:
        def publish(_topic: str, _payload: bytes, _is_retained: bool) -> bool:
            for _ in range(2):
                thread = threading.Thread(target=commands.on_answer, args=(answer("one"), BAY_3))
                thread.start()
                thread.join()
            return True

        commands = Commands(publish)
        return await commands.send(BAY_3, command("one"))

    assert asyncio.run(told()).verdict == "accepted"


def test_no_two_presses_have_the_same_id() -> None:
    assert len({new_command_id() for _ in range(1000)}) == 1000
