"""Send a recording through the measuring core and write what it answers.

Nothing is written if an input is wrong; an answer is written whole or not at all.
"""

import argparse
import os
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import msgspec

from drainscale.errors import InputError
from drainscale.recording.job_file import read_job
from drainscale.recording.senml import read_recording
from drainscale.replay.playback import Progress, play
from drainscale.replay.summary import summary_lines


def main(argv: Sequence[str]) -> int:
    """Run ``drainscale replay``; return the exit status."""
    options = _options(argv)
    job = read_job(options.job)
    recording = read_recording(options.recording)
    for warning in recording.warnings:
        print(f"drainscale: warning: {warning}", file=sys.stderr)
    with _progress(len(recording.samples)) as progress:
        answer = play(recording, job, progress).to_dict()
    write_whole(options.json, msgspec.json.format(msgspec.json.encode(answer), indent=1) + b"\n")
    print("\n".join(summary_lines(answer)))
    return 0


def _options(argv: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="drainscale replay",
        description="Send a recording through the measuring core, as fast as it takes it.",
    )
    parser.add_argument("recording", type=Path, help="NAME.sensml, plain or gzip")
    parser.add_argument("--job", type=Path, required=True, help="the service's NAME.job.toml")
    parser.add_argument("--json", type=Path, required=True, help="file to write the answer to")
    return parser.parse_args(argv)


def write_whole(path: Path, content: bytes) -> None:
    """Write a file whole or not at all: beside its place first, then moved there.

    Raises:
        InputError: It cannot be written there.
    """
    try:
        if path.exists() and not path.is_file():
            path.write_bytes(content)  # /dev/stdout and its like
            return
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        beside = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            umask = os.umask(0)
            os.umask(umask)
            beside.chmod(0o666 & ~umask)
            beside.replace(path)
        except BaseException:
            beside.unlink()
            raise
    except OSError as error:
        raise InputError(f"{path}: cannot be written: {error.strerror or error}") from error


@contextmanager
def _progress(total: int) -> Iterator[Progress | None]:
    """A progress bar on standard error, if that is a terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    # not needed, and not loaded, where nobody looks
    from rich.console import Console
    from rich.progress import Progress as Bar

    with Bar(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("replaying", total=total)
        yield lambda n: bar.update(task, completed=n)
