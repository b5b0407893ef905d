"""A world in another process, asked over a local socket; it keeps to `BenchWorld`.

One question a conversion: what is asked of the same sensor at the same time was answered with
the first question. Threads may share a client.
"""

import socket
from pathlib import Path
from threading import Lock
from types import TracebackType
from typing import Any, Self

import msgspec

from drainscale_sim.bench_world import PanFault, Scale, ScaleFault
from drainscale_sim.world.wire import Answer, Ask, receive, send


class WorldClient:
    """The wires of a bench whose world runs elsewhere.

    Args:
        path: The world's socket.
        timeout_s: How long an answer may take; in real time a question about the future waits.

    Raises:
        OSError: Nobody listens there.
    """

    def __init__(self, path: Path, timeout_s: float = 30.0) -> None:
        self._link = socket.socket(socket.AF_UNIX)
        self._link.settimeout(timeout_s)
        try:
            self._link.connect(str(path))
        except OSError:
            self._link.close()
            raise
        self._lock = Lock()
        self._conversions: dict[Scale, tuple[float, float | None, ScaleFault | None]] = {}
        self._pan: tuple[float, float, float, PanFault | None] | None = None

    def _ask(self, what: str, *args: Any) -> Any:
        with self._lock:
            send(self._link, Ask(what, list(args)))
            answer = msgspec.msgpack.decode(receive(self._link), type=Answer)
        if answer.error is not None:
            raise ValueError(f"world: {answer.error}")
        return answer.value

    def now_s(self) -> float:
        """The world's clock, in s since its start."""
        return float(self._ask("now"))

    def advance_to(self, t_s: float) -> None:
        """Let the world run on to `t_s`."""
        self._ask("advance", t_s)

    def bridge_counts(self, scale: Scale, t_s: float) -> float:
        """What an ideal converter would read, in counts.

        Raises:
            ValueError: There is no such scale in this run.
        """
        counts = self._conversion(scale, t_s)[0]
        if counts is None:
            raise ValueError(f"this run has no {scale} scale")
        return counts

    def scale_fault(self, scale: Scale, t_s: float) -> ScaleFault | None:
        """How the scale fails at `t_s`."""
        return self._conversion(scale, t_s)[1]

    def _conversion(self, scale: Scale, t_s: float) -> tuple[float | None, ScaleFault | None]:
        known = self._conversions.get(scale)
        if known is None or known[0] != t_s:
            counts, fault = self._ask("conversion", scale, t_s)
            known = self._conversions[scale] = (t_s, counts, fault)
        return known[1], known[2]

    def pan_skin_C(self, t_s: float) -> float:
        """The thermocouple's junction, noise and bias included."""
        return self._pan_at(t_s)[1]

    def board_C(self, t_s: float) -> float:
        """The converter's own temperature."""
        return self._pan_at(t_s)[2]

    def pan_fault(self, t_s: float) -> PanFault | None:
        """How the thermocouple fails at `t_s`."""
        return self._pan_at(t_s)[3]

    def _pan_at(self, t_s: float) -> tuple[float, float, float, PanFault | None]:
        known = self._pan
        if known is None or known[0] != t_s:
            skin_C, board_C, fault = self._ask("pan", t_s)
            known = self._pan = (t_s, skin_C, board_C, fault)
        return known

    def foot_switch_pressed(self, t_s: float) -> bool:
        """Whether the technician's foot is on the switch."""
        return bool(self._ask("foot", t_s))

    def lamps(self, t_s: float, lit: frozenset[str]) -> None:
        """Tell the world what is lit from `t_s` on."""
        self._ask("lamps", t_s, sorted(lit))

    def sounder(self, t_s: float, pitch_Hz: float | None) -> None:
        """Tell the world what sounds from `t_s` on."""
        self._ask("sounder", t_s, pitch_Hz)

    def restore(self, t_s: float) -> float:
        """Set the world back to `t_s`; returns where it is."""
        self._conversions, self._pan = {}, None
        return float(self._ask("restore", t_s))

    def is_over(self) -> bool:
        """Whether the technician has gone home."""
        return bool(self._ask("over"))

    def truth(self, name: str) -> dict[str, Any]:
        """What truly happened, once the service is over."""
        told: dict[str, Any] = self._ask("truth", name)
        return told

    def close(self) -> None:
        """Let go of the world; it stays as it is."""
        self._link.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
