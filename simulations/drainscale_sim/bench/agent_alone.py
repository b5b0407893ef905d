"""The agent in a process of its own, as on the board: its time, what it imports.

    python -m drainscale_sim.bench.agent_alone FOLDER SPAWNED_S

It runs the agent's loop, the core and the spool on played-back sensors, one commit a second as on
the bench, by a clock that waits for nobody. What the drivers and the kernel take for pins and
buses is not in it; what that clock takes is. Libraries that the kit does not ask for are hidden
first: where one is installed, the package `uncertainties` would load it.
"""

import json
import os
import struct
import sys
import threading
from collections.abc import Iterable, Iterator
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from time import perf_counter, process_time
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from drainscale.core import Live
    from drainscale.messages.records import Body
    from drainscale.ports import Clock, FootEvent, PanSensorFrame
    from drainscale.quantities.samples import Sample
    from drainscale.uplink.writer import SpoolWriter

PI_PACKAGES = ("gpiozero", "w1thermsensor", "spidev", "lgpio", "paho.mqtt.client")
NOT_THE_KITS = ("numpy", "scipy", "pandas", "matplotlib", "fastapi", "pint", "amqtt")
COUNTS, PANS, MARKS, JOB, REPORT = "counts.bin", "pans.bin", "marks.json", "job.toml", "report.json"
COUNT_FORM, PAN_FORM = "<di", "<ddd"  # t and count; t, pan and board
CONVERSION_S = 0.1  # of the thermocouple's converter
FLUSH_S = 10.0


def _stored(path: Path, form: str) -> Iterator[tuple[Any, ...]]:
    with path.open("rb") as file:
        while record := file.read(struct.calcsize(form)):
            yield struct.unpack(form, record)


class _Cell:
    """Gives the counts of a file at their times."""

    way = "played"
    frames_dropped = 0

    def __init__(self, path: Path, clock: "Clock") -> None:
        self._clock = clock
        self._records = _stored(path, COUNT_FORM)
        self._next = next(self._records, None)

    def read(self, timeout_s: float) -> int | None:
        wait_s = timeout_s if self._next is None else self._next[0] - self._clock.now_s()
        self._clock.sleep(min(wait_s, timeout_s))
        if self._next is None or wait_s > timeout_s:
            return None
        count = int(self._next[1])
        self._next = next(self._records, None)
        return count

    def close(self) -> None:
        self._records = iter(())


class _Thermometer:
    """Gives the latest temperatures of a file."""

    def __init__(self, path: Path, clock: "Clock") -> None:
        self._clock = clock
        self._records = _stored(path, PAN_FORM)
        self._latest, self._next = (0.0, 20.0, 20.0), next(self._records, None)

    def read(self) -> "PanSensorFrame | None":
        from drainscale.ports import PanSensorFrame

        self._clock.sleep(CONVERSION_S)
        while self._next is not None and self._next[0] <= self._clock.now_s():
            self._latest, self._next = self._next, next(self._records, None)
        return PanSensorFrame(self._latest[2], self._latest[1])

    def close(self) -> None:
        self._records = iter(())


class _Lamps:
    def show(self, lit: frozenset[str]) -> None:
        """Light nothing."""

    def sound(self, pitch_Hz: float | None) -> None:
        """Sound nothing."""

    def close(self) -> None:
        """Hold nothing."""


class _Foot:
    def events(self) -> "tuple[FootEvent, ...]":
        return ()

    def close(self) -> None:
        """Hold nothing."""


class _Keeper:
    """Keeps in a real spool, and commits once a second of the board's clock."""

    def __init__(self, writer: "SpoolWriter", clock: "Clock", spawned_s: float) -> None:
        self._writer, self._clock, self._spawned_s = writer, clock, spawned_s
        self._due_s = 0.0
        self.first_s: float | None = None
        self.first_cpu_s = 0.0

    def samples(self, samples: "Iterable[Sample]") -> None:
        if self.first_s is None:
            self.first_s, self.first_cpu_s = perf_counter() - self._spawned_s, process_time()
        for sample in samples:
            self._writer.add(sample)

    def tell(self, body: "Body") -> None:
        self._writer.put(body)

    def turn(self, live: "Live | None") -> None:  # noqa: ARG002  nobody is sent to
        if self._clock.now_s() >= self._due_s:
            self._due_s = self._clock.now_s() + 1.0
            self._writer.flush(FLUSH_S)

    def settle(self, timeout_s: float) -> bool:
        return self._writer.flush(timeout_s)

    def status(self) -> str:
        return ""


def run(folder: Path, spawned_s: float) -> dict[str, object]:
    """Run a service and tell what it took."""
    from functools import partial

    import drainscale.agent.command  # noqa: F401  all that the command loads
    from drainscale.agent.devices import Devices
    from drainscale.agent.job_run import JobRun
    from drainscale.agent.loop import Loop
    from drainscale.messages.records import JobOpened
    from drainscale.messages.topics import BenchId
    from drainscale.recording.job_file import read_job
    from drainscale.uplink.spool import Spool
    from drainscale.uplink.writer import SpoolWriter
    from drainscale_sim.board.clock import BoardClock
    from drainscale_sim.board.hand_set_world import HandSetWorld

    _load_pi_packages()
    clock, job = BoardClock(HandSetWorld()), read_job(folder / JOB)
    devices = Devices(
        clock,
        lambda: _Cell(folder / COUNTS, clock),
        lambda: _Thermometer(folder / PANS, clock),
        _Lamps,
        _Foot,
    )
    spool = Spool(folder / "spool.sqlite", BenchId("bench", "alone"))
    with SpoolWriter(spool) as writer:
        opened = JobOpened(
            base_time_s=0.0, is_clock_set=False, kernel_boot="", started_monotonic_s=0.0,
            kit_version="", spec=job,
        )  # fmt: skip
        writer.begin_job("j-alone", opened)
        keeper = _Keeper(writer, clock, spawned_s)
        loop = Loop(devices, JobRun(job, keeper), keeper, 0.0)
        ends_s, marks = json.loads((folder / MARKS).read_text(encoding="utf-8"))
        for t, step in marks:
            clock.call_at(t, partial(loop.intake.put, partial(_mark, step)))
        stop = threading.Event()
        clock.call_at(ends_s, stop.set)
        loop.run(stop)
    spool.close()
    return {
        "simulated_s": clock.now_s(),
        "cpu_s": process_time() - keeper.first_cpu_s,
        "first_sample_s": keeper.first_s,
        "samples": loop.turning.samples,
        "imports": imported(),
    }


def _load_pi_packages() -> None:
    """Load what the drivers would on the board, as far as it is here."""
    os.environ.setdefault("W1THERMSENSOR_NO_KERNEL_MODULE", "1")
    for name in PI_PACKAGES:
        with suppress(ImportError):
            import_module(name)


def _mark(step: str, t: float) -> "Sample":
    from drainscale.quantities.samples import StepMark

    return StepMark(t, step)


def imported() -> list[str]:
    """Name the packages from outside that this process has loaded."""
    loaded: dict[str, object] = dict(sys.modules)
    found = {name.partition(".")[0] for name, module in loaded.items() if module is not None}
    return sorted(found - sys.stdlib_module_names - {"__main__"})


def hide() -> None:
    """Let what is not the kit's be as absent as on the board."""
    for name in NOT_THE_KITS:
        sys.modules[name] = None  # type: ignore[assignment]  # so an import of it fails


if __name__ == "__main__":
    hide()
    there = Path(sys.argv[1])
    report = run(there, float(sys.argv[2]))
    (there / REPORT).write_text(json.dumps(report), encoding="utf-8")
