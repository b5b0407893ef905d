"""A live service's own recording through the code of `drainscale replay`: the same answer?"""

import io
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from math import inf
from pathlib import Path
from typing import Any

import msgspec

from drainscale.agent.program import Finished
from drainscale.replay.command import main as replay
from drainscale_sim.closed_loop.export import export
from drainscale_sim.soak.kills import as_bytes

MS = 1000.0


@dataclass(frozen=True)
class Replayed:
    """What the replay of one service's recording gave beside its live answer.

    Attributes:
        is_same: Whether it is the same JSON, byte for byte.
        bytes_n: How long the live answer is.
        times_n: How many times it holds.
        apart_ms: The most that a time differs; ``inf``: there are others.
        said: What the command said of the recording; a good one needs no word.
    """

    is_same: bool
    bytes_n: int
    times_n: int
    apart_ms: float
    said: str = ""


def replayed(finished: Finished, spool: Path, folder: Path) -> Replayed:
    """Export a service from its spool and replay what was exported.

    Args:
        finished: The service.
        spool: The file of its spool.
        folder: Where recording, job file and answer go.

    Raises:
        SpoolError: The spool cannot be used.
        InputError: What was exported is no recording, or no job.
    """
    files = export(spool, finished.job, folder)
    out, said = folder / "replayed.json", io.StringIO()
    with redirect_stderr(said), redirect_stdout(io.StringIO()):
        replay([str(files.recording), "--job", str(files.job), "--json", str(out)])
    return compared(as_bytes(finished.answer), out.read_bytes(), said.getvalue().strip())


def compared(live: bytes, again: bytes, said: str = "") -> Replayed:
    """Compare two answers as they are written."""
    times, times_again = (dict(_times(msgspec.json.decode(one))) for one in (live, again))
    apart_ms = inf
    if times.keys() == times_again.keys():
        apart_ms = max((MS * _apart_s(times[key], times_again[key]) for key in times), default=0.0)
    return Replayed(live == again, len(live), len(times), apart_ms, said)


def _apart_s(t: float | None, other: float | None) -> float:
    if t is None or other is None:
        return 0.0 if t is other else inf
    return abs(t - other)


def _times(answer: Any, place: str = "", *, is_time: bool = False) -> Iterator[tuple[str, Any]]:
    """Find every time of an answer: what is named ``t``, ``..._s``, or an interval ``..._90``."""
    if isinstance(answer, dict):
        for key, one in answer.items():
            named = key == "t" or key.endswith(("_s", "_90"))
            yield from _times(one, f"{place}.{key}", is_time=named)
    elif isinstance(answer, list):
        for n, one in enumerate(answer):
            yield from _times(one, f"{place}.{n}", is_time=is_time)
    elif is_time:
        yield place, answer
