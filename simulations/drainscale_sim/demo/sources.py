"""Find the recording to play, with its job and, where it is known, its truth."""

from dataclasses import dataclass
from pathlib import Path

from drainscale.errors import InputError
from drainscale_sim.score.truth import Truth, read_truth

BUILT_IN = Path(__file__).parent / "recordings"
TEST_RECORDINGS = Path(__file__).parents[3] / "tests/data/recordings"
DEFAULT = "whole-service"
SUFFIXES = (".sensml.gz", ".sensml")


@dataclass(frozen=True, slots=True)
class Source:
    """What is played."""

    title: str
    recording: Path
    job: Path
    truth: Truth | None


def find_source(recording: str, job: Path | None) -> Source:
    """Find a recording by path, or by the name of one that comes along.

    Args:
        recording: A path, or the name of a built-in or test recording.
        job: Its job file; ``None``: ``NAME.job.toml`` beside it.

    Raises:
        InputError: There is no such recording, or its truth is broken.
    """
    path = Path(recording)
    if not path.exists():
        path = _named(recording)
    name = path.name
    for suffix in SUFFIXES:
        name = name.removesuffix(suffix)
    beside = job if job is not None else path.with_name(f"{name}.job.toml")
    return Source(name, path, beside, _truth(path.with_name(f"{name}.truth.json")))


def _named(name: str) -> Path:
    for folder in (BUILT_IN, TEST_RECORDINGS):
        path = folder / f"{name}.sensml.gz"
        if path.exists():
            return path
    known = sorted(
        path.name.removesuffix(".sensml.gz")
        for folder in (BUILT_IN, TEST_RECORDINGS)
        for path in folder.glob("*.sensml.gz")
    )
    raise InputError(f"{name}: no such recording; known by name: {', '.join(known)}")


def _truth(path: Path) -> Truth | None:
    if not path.exists():
        return None
    try:
        return read_truth(path)
    except ValueError as error:
        raise InputError(str(error)) from error
