"""What holds for every test: fixed seeds, no thread left behind."""

import threading
from collections.abc import Iterator

import pytest
from hypothesis import settings

# the same examples on every machine; no time limit, for a small board is slow
settings.register_profile("drainscale", deadline=None, derandomize=True, print_blob=True)
settings.load_profile("drainscale")


@pytest.fixture(autouse=True)
def no_thread_left() -> Iterator[None]:
    """Fail a test that leaves a thread running."""
    before = set(threading.enumerate())
    yield
    left = [thread.name for thread in threading.enumerate() if thread not in before]
    assert not left, f"threads left running: {left}"
