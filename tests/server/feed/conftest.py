"""A feed over a made-up bench's store, on a clock that is set by hand."""

import asyncio
from collections.abc import Coroutine
from typing import Any, TypeVar

import msgspec
import pytest
from tests.kit.uplink.made_up import BAY_3
from tests.server.shops import HandClock

from drainscale.messages.telegrams import Figures, Live
from drainscale_server.feed.hub import Feed
from drainscale_server.feed.viewer import Viewer
from drainscale_server.store.store import Store

Told = TypeVar("Told")


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
def feed(store: Store, clock: HandClock) -> Feed:
    return Feed(store, clock)


def live(t: float, job: str | None = "j-1", cue: str = "wait", **figures: Any) -> Live:
    """Make live figures at a time of the job."""
    return Live(
        site=BAY_3.site,
        bench=BAY_3.bench,
        boot="b1",
        now_s=100.0 + t,
        job=job,
        cue=cue,
        cue_reason="draining",
        figures=Figures(t=t, step="drain", scale_age_s=0.1, pan_age_s=0.5, **figures),
    )


def run(work: Coroutine[Any, Any, Told]) -> Told:
    """Run something of the event loop to its end."""
    return asyncio.run(work)


def taken(viewer: Viewer) -> list[tuple[str, Any]]:
    """Take what waits for a viewer, decoded."""
    return [decoded(raw) for raw in viewer._take()]


def decoded(raw: bytes) -> tuple[str, Any]:
    event, data = raw.decode().strip().split("\n")
    assert event.startswith("event: ")
    assert data.startswith("data: ")
    return event.removeprefix("event: "), msgspec.json.decode(data.removeprefix("data: "))
