"""Serve a world over a local socket; it outlives its clients.

In lockstep the world stands still until somebody asks for a later time, whether clients live or
not. In real time it runs on by itself, and a question about the future waits until then.
"""

import argparse
import selectors
import socket
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import msgspec

from drainscale_sim.bench_world import Scale
from drainscale_sim.leash import hold
from drainscale_sim.scenarios.draw import draw, scenario_names
from drainscale_sim.world.truth import truth_of
from drainscale_sim.world.wire import Answer, Ask, receive, send
from drainscale_sim.world.world import World

RUN_ON_EVERY_S = 0.05
HALF_ASKED_S = 2.0  # who has not ended a question by then is gone


class Pace:
    """How the world's time follows the machine's: not at all, or at a speed."""

    def __init__(self, speed: float | None) -> None:
        self._speed = speed
        self._began = time.monotonic()

    @property
    def is_lockstep(self) -> bool:
        """Whether the world waits to be asked."""
        return self._speed is None

    def now_s(self) -> float:
        """The world's time by the machine's clock, s."""
        return (time.monotonic() - self._began) * (self._speed or 0.0)

    def wait_for(self, t_s: float) -> None:
        """Wait until the world's time has come, where it runs by the machine's clock."""
        if self._speed is not None:
            time.sleep(max(t_s - self.now_s(), 0.0) / self._speed)


class Desk:
    """Answers questions about one world."""

    def __init__(self, world: World, pace: Pace) -> None:
        self._world, self._pace = world, pace
        self._answers: dict[str, Callable[..., Any]] = {
            "now": self._now,
            "advance": self._advance,
            "conversion": self._conversion,
            "pan": self._pan,
            "foot": self._foot,
            "lamps": self._lamps,
            "sounder": self._sounder,
            "restore": world.restore,
            "over": lambda: world.is_over,
            "truth": self._truth,
        }

    def answer(self, body: bytes) -> Answer:
        """Answer one frame; a wrong question is told to the one who asks."""
        try:
            ask = msgspec.msgpack.decode(body, type=Ask)
            return Answer(None, self._answers[ask.what](*ask.args))
        except (msgspec.DecodeError, KeyError, TypeError, ValueError) as error:
            return Answer(f"{type(error).__name__}: {error}")

    def _at(self, t_s: float) -> float:
        self._pace.wait_for(t_s)
        self._world.advance_to(t_s)
        return t_s

    def run_on(self) -> None:
        """Let a world that does not wait go on."""
        if not self._pace.is_lockstep:
            self._world.advance_to(self._pace.now_s())

    def _now(self) -> float:
        self.run_on()
        return self._world.now_s()

    def _advance(self, t_s: float) -> None:
        self._at(t_s)

    def _conversion(self, scale: Scale, t_s: float) -> tuple[float | None, str | None]:
        fault = self._world.scale_fault(scale, self._at(t_s))
        is_there = scale == "drain" or self._world.setup.bench.has_supply_scale
        return (self._world.bridge_counts(scale, t_s) if is_there else None), fault

    def _pan(self, t_s: float) -> tuple[float, float, str | None]:
        world, at = self._world, self._at(t_s)
        return world.pan_skin_C(at), world.board_C(at), world.pan_fault(at)

    def _foot(self, t_s: float) -> bool:
        return self._world.foot_switch_pressed(self._at(t_s))

    def _lamps(self, t_s: float, lit: list[str]) -> None:
        self._world.lamps(self._at(t_s), frozenset(lit))

    def _sounder(self, t_s: float, pitch_Hz: float | None) -> None:
        self._world.sounder(self._at(t_s), pitch_Hz)

    def _truth(self, name: str) -> dict[str, Any]:
        world = self._world
        return truth_of(name, world.bay, world.grid, world.clock.t, [])


def serve(desk: Desk, listener: socket.socket, is_done: Callable[[], bool] = lambda: False) -> None:
    """Serve until `is_done`; connections come and go.

    A client that breaks off in the middle of a question loses its connection and nothing else.
    """
    with selectors.DefaultSelector() as selector:
        selector.register(listener, selectors.EVENT_READ)
        while not is_done():
            for key, _ in selector.select(RUN_ON_EVERY_S):
                if key.fileobj is listener:
                    link, _ = listener.accept()
                    link.settimeout(HALF_ASKED_S)
                    selector.register(link, selectors.EVENT_READ)
                elif isinstance(key.fileobj, socket.socket) and not _serve_one(desk, key.fileobj):
                    selector.unregister(key.fileobj)
                    key.fileobj.close()
            desk.run_on()
        for key in list(selector.get_map().values()):
            if isinstance(key.fileobj, socket.socket) and key.fileobj is not listener:
                key.fileobj.close()


def _serve_one(desk: Desk, link: socket.socket) -> bool:
    try:
        send(link, desk.answer(receive(link)))
    except OSError:
        return False
    return True


def listen(path: Path) -> socket.socket:
    """Open the socket; one that a dead world left behind is taken over.

    Raises:
        OSError: It cannot be opened, or a living world listens there.
    """
    if path.is_socket():
        with socket.socket(socket.AF_UNIX) as probe:
            try:
                probe.connect(str(path))
            except ConnectionRefusedError:
                path.unlink()
            else:
                raise OSError(f"{path}: a world is there already")
    listener = socket.socket(socket.AF_UNIX)
    try:
        listener.bind(str(path))
        path.chmod(0o600)
        listener.listen()
    except OSError:
        listener.close()
        raise
    return listener


def main(argv: Sequence[str] | None = None) -> int:
    """Run a world as a process of its own, until it is ended.

    Returns:
        0 after an interrupt; 2 for a wrong scenario or socket.
    """
    parser = argparse.ArgumentParser(prog="python -m drainscale_sim.world", description=__doc__)
    parser.add_argument("--scenario", default="standpipe", choices=scenario_names())
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--socket", type=Path, required=True)
    parser.add_argument(
        "--real-time",
        type=float,
        nargs="?",
        const=1.0,
        metavar="SPEED",
        help="run on by the machine's clock (default: wait to be asked)",
    )
    parser.add_argument(
        "--leash", action="store_true", help="end with the standard input, so with the starter"
    )
    asked = parser.parse_args(argv)
    if asked.leash:
        hold()
    try:
        world = World(draw(asked.scenario, asked.seed), keeps_snapshots=True)
        listener = listen(asked.socket)
    except (OSError, ValueError) as error:
        sys.stderr.write(f"drainscale world: {error}\n")
        return 2
    try:
        with listener:
            serve(Desk(world, Pace(asked.real_time)), listener)
    except KeyboardInterrupt:
        pass
    finally:
        asked.socket.unlink(missing_ok=True)
    return 0
