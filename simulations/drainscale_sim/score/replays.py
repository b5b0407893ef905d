"""Run the real ``drainscale replay`` over every recording of a folder, two at a time."""

import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import msgspec

TRUTH_SUFFIX = ".truth.json"
AT_ONCE = 2
LIMIT_S = 300.0  # a replay that takes longer hangs


@dataclass(frozen=True, slots=True)
class Case:
    """One recording to replay, with its job and its truth."""

    name: str
    recording: Path
    job: Path
    truth: Path


@dataclass(frozen=True, slots=True)
class Replayed:
    """What one replay gave: a decoded answer, or what went wrong."""

    case: Case
    answer: object | None
    failure: str | None
    cpu_s: float | None


def find_cases(folder: Path) -> list[Case]:
    """Find the recordings of a folder that have a job and a truth.

    Raises:
        FileNotFoundError: There is none, or one lacks its recording or its job.
    """
    cases = [_case(truth) for truth in sorted(folder.glob(f"*{TRUTH_SUFFIX}"))]
    if not cases:
        raise FileNotFoundError(f"{folder}: no recording with a known truth (*{TRUTH_SUFFIX})")
    return cases


def _case(truth: Path) -> Case:
    name = truth.name.removesuffix(TRUTH_SUFFIX)
    recording = truth.with_name(f"{name}.sensml.gz")
    if not recording.exists():
        recording = truth.with_name(f"{name}.sensml")
    job = truth.with_name(f"{name}.job.toml")
    for path in (recording, job):
        if not path.exists():
            raise FileNotFoundError(f"{path}: missing beside {truth.name}")
    return Case(name, recording, job, truth)


def replay_all(
    cases: Iterable[Case], results: Path, done: Callable[[Replayed], None]
) -> list[Replayed]:
    """Replay every case in a process of its own.

    Args:
        cases: What to replay.
        results: Folder that receives ``NAME.json`` and, if anything was said, ``NAME.stderr``.
        done: Called after each, in the order of ``cases``.
    """
    results.mkdir(parents=True, exist_ok=True)
    finished = []
    with ThreadPoolExecutor(AT_ONCE) as pool:
        for replayed in pool.map(lambda case: replay(case, results), cases):
            done(replayed)
            finished.append(replayed)
    return finished


def replay(case: Case, results: Path) -> Replayed:
    """Replay one case by the command that a person would give."""
    out, said = results / f"{case.name}.json", results / f"{case.name}.stderr"
    out.unlink(missing_ok=True)
    command = [sys.executable, "-m", "drainscale", "replay", str(case.recording)]
    command += ["--job", str(case.job), "--json", str(out)]
    with said.open("wb") as stderr:
        status, cpu_s = _run(command, stderr.fileno())
    words = said.read_text(errors="replace").strip()
    if not words:
        said.unlink()
    if status != 0:
        last = words.splitlines()[-1] if words else "said nothing"
        return Replayed(case, None, f"exit status {status}: {last}", cpu_s)
    return read_answer(case, results, cpu_s)


def _run(command: list[str], stderr: int) -> tuple[int, float]:
    """Run a command; return its exit status and the processor time it took, s."""
    process = subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=stderr
    )
    hang = threading.Timer(LIMIT_S, process.kill)
    hang.start()
    try:
        _, status, usage = os.wait4(process.pid, 0)
    finally:
        hang.cancel()
    process.returncode = os.waitstatus_to_exitcode(status)
    return process.returncode, usage.ru_utime + usage.ru_stime


def read_answer(case: Case, results: Path, cpu_s: float | None = None) -> Replayed:
    """Read the answer that a replay left in the results folder."""
    path = results / f"{case.name}.json"
    try:
        answer = msgspec.json.decode(path.read_bytes())
    except OSError:
        return Replayed(case, None, "wrote no answer", cpu_s)
    except msgspec.DecodeError as error:
        return Replayed(case, None, f"wrote no JSON: {error}", cpu_s)
    return Replayed(case, answer, None, cpu_s)
