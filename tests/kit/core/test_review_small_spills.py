"""What stood in the plug, a mark that comes late, a container that lost a few drops."""

from dataclasses import replace

import pytest
from tests.kit.core.bench import JOB, Bench, Spill, WarmUp

from drainscale.core import Result, Service
from drainscale.core.container import Container


def replayed(bench: Bench) -> Result:
    service = Service(bench.job)
    for sample in bench.samples:
        service.feed(sample)
    return service.finish()


def checked(spill: Spill, *, mark_after_s: float) -> Result:
    """A level check alone, 2 K above the lower limit; the mark comes late."""
    bench = Bench(warm_up=WarmUp(tau_s=400.0))
    bench.mark("circulate")
    bench.start_engine()
    bench.place(0.9)
    bench.wait(bench.warm_up.reaches_s(37.0) - 2.0)
    bench.open_check(spill)
    bench.wait(mark_after_s)
    bench.mark("level")
    bench.wait(60.0)
    bench.shut()
    bench.mark("seal")
    bench.wait(8.0)
    bench.lift()
    return replayed(bench)


@pytest.mark.parametrize("mark_after_s", [0.0, 8.0])
def test_what_stood_in_the_plug_is_no_spill(mark_after_s: float) -> None:
    """9.3 mL run out within ten seconds, at first faster than the close limit."""
    result = checked(Spill(9.3, weir=0.08), mark_after_s=mark_after_s)
    assert result.to_dict()["level"]["verdict"] == "no-spill"
    assert "close-plug" not in {event.event for event in result.story.events}


def test_a_small_spill_closes_the_plug_all_the_same() -> None:
    result = checked(Spill(60.0), mark_after_s=0.0)
    assert result.to_dict()["level"]["verdict"] == "closed-in-window"


@pytest.mark.parametrize(
    ("lighter_kg", "left_L"),
    [(0.04, 2.0), (0.0, 2.0), (-0.04, 2.0), (0.2, 1.75), (-0.2, 0.0)],
)
def test_a_container_that_comes_back_lighter_was_emptied_from_50_g_on(
    lighter_kg: float, left_L: float
) -> None:
    container = Container(capacity_L=8.0, start_L=0.0)
    container.stands(0.9)
    container.reads(2.5)
    container.lifted(0.8)
    container.put_back(2.5 - lighter_kg, 0.8, is_same=False)
    assert container.content_L(0.8) == pytest.approx(left_L)


def test_a_capacity_is_watched_through_a_return_that_is_40_g_lighter() -> None:
    bench = Bench(job=replace(JOB, container=replace(JOB.container, capacity_L=3.2)))
    bench.place(0.9)
    bench.wait(8.0)
    bench.open_drain(kg=2.2, tau_s=25.0)
    bench.wait(112.0)
    kg = bench.lift()
    bench.place(kg - 0.04)
    bench.wait(8.0)
    bench.open_drain(kg=0.5, tau_s=15.0)
    bench.wait(110.0)
    assert "container-full" in {event.event for event in replayed(bench).story.events}
