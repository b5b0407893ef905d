from typing import Any

import msgspec
import pytest
from tests.kit.uplink.made_up import BAY_3
from tests.server.feed.conftest import live, run, taken
from tests.server.made_up import BODIES, numbered
from tests.server.shops import NOW_S, HandClock

from drainscale.messages.records import CueShown, EventTold
from drainscale.messages.telegrams import Status
from drainscale_server.feed import hub
from drainscale_server.feed.board_state import BoardState
from drainscale_server.feed.compose import compose
from drainscale_server.feed.hub import Feed
from drainscale_server.feed.viewer import QUEUE_N, Viewer
from drainscale_server.ingest.keeping import Keeper
from drainscale_server.store.store import Store

KEY = (BAY_3.site, BAY_3.bench)


@pytest.fixture
def opened(store: Store) -> Keeper:
    """A job that is open: its beginning, samples, an event and a cue."""
    keeper = Keeper(store)
    keeper.keep([numbered(seq, body) for seq, body in enumerate(BODIES[:4], start=1)])
    return keeper


async def watching(feed: Feed) -> Viewer:
    viewer = await feed.open(*KEY)
    assert viewer is not None
    return viewer


def test_a_viewer_gets_the_whole_state_first(feed: Feed, opened: Keeper) -> None:
    feed.on_live(live(2.0, flow_mL_per_min=900.0))
    ((event, state),) = taken(run(watching(feed)))
    assert event == "snapshot"
    assert set(state) == {
        "server", "link", "bench", "job", "procedure", "cue", "figures", "events", "trend",
        "result",
    }  # fmt: skip
    assert (state["job"]["job"], state["job"]["state"]) == ("j-1", "open")
    assert state["procedure"]["step"] == "drain"
    assert state["cue"] == {
        "cue": "wait", "reason": "draining", "text": "It drains.", "since_t": 0.6,
    }  # fmt: skip
    assert state["trend"]["flow_mL_per_min"] == [900.0]
    assert state["link"] == {
        "state": "online", "reason": "", "last_message_s": NOW_S, "age_s": 0,
    }  # fmt: skip


def test_later_only_the_sections_that_changed_are_told(
    feed: Feed, opened: Keeper, clock: HandClock
) -> None:
    async def told() -> list[tuple[str, Any]]:
        feed.on_live(live(2.0))
        viewer = await watching(feed)
        taken(viewer)
        clock.now_s += 0.5
        feed.on_live(live(2.5, flow_mL_per_min=50.0))
        await feed.turn()
        return taken(viewer)

    ((event, change),) = run(told())
    assert event == "change"
    assert set(change) == {"server", "link", "bench", "figures"}
    assert change["figures"]["flow_mL_per_min"] == 50.0


def test_nothing_is_told_when_nothing_changed(feed: Feed, opened: Keeper) -> None:
    async def told() -> list[tuple[str, Any]]:
        viewer = await watching(feed)
        taken(viewer)
        for _ in range(3):
            await feed.turn()
        return taken(viewer)

    assert run(told()) == []


def test_the_trend_grows_by_points(feed: Feed, opened: Keeper, clock: HandClock) -> None:
    async def told() -> Any:
        feed.on_live(live(2.0, fluid_C=30.0))
        viewer = await watching(feed)
        taken(viewer)
        for t in (3.0, 4.0, 5.0, 6.5):  # a point every two seconds
            clock.now_s += 1.0
            feed.on_live(live(t, fluid_C=30.0 + t))
            await feed.turn()
        changes = taken(viewer)
        snapshot = taken(await watching(feed))
        return changes, snapshot[0][1]

    changes, state = run(told())
    added = [change["trend_add"] for _, change in changes if "trend_add" in change]
    assert [one["t"] for one in added] == [[4.0], [6.5]]
    assert state["trend"]["t"] == [2.0, 4.0, 6.5]
    assert state["trend"]["fluid_C"] == [30.0, 34.0, 36.5]


def test_news_of_the_store_are_told(feed: Feed, opened: Keeper) -> None:
    async def told() -> Any:
        viewer = await watching(feed)
        taken(viewer)
        event = EventTold(t=9.0, event="dripped", step="drain")
        cue = CueShown(t=9.1, cue="go-on", reason="dripped", step="drain")
        opened.keep([numbered(5, event), numbered(6, cue)])
        await feed.turn()
        assert taken(viewer) == []  # nobody told the feed yet
        feed.on_news([KEY])
        await feed.turn()
        return taken(viewer)

    ((_, change),) = run(told())
    assert [one["event"] for one in change["events"]] == ["flow-started", "dripped"]
    assert change["cue"]["text"].startswith("It only drips")


def test_values_grow_old_by_themselves(feed: Feed, opened: Keeper, clock: HandClock) -> None:
    async def told() -> Any:
        feed.on_live(live(2.0))
        viewer = await watching(feed)
        first = taken(viewer)[0][1]["figures"]
        clock.now_s += 3.5
        await feed.turn()
        (_, change) = taken(viewer)[-1]
        return first, change

    first, change = run(told())
    stale = ("scale_is_stale", "pan_is_stale", "link_is_stale")
    assert [first[name] for name in stale] == [False, False, False]
    assert [change["figures"][name] for name in stale] == [True, False, True]
    assert change["link"]["age_s"] == 3


@pytest.mark.parametrize("set_by_s", [-3600.0, 3600.0])
def test_a_clock_that_is_set_makes_nothing_younger_or_older(
    store: Store, opened: Keeper, clock: HandClock, set_by_s: float
) -> None:
    steady = HandClock()
    feed = Feed(store, clock, steady=steady)

    async def told() -> Any:
        feed.on_live(live(2.0))
        viewer = await watching(feed)
        taken(viewer)
        clock.now_s += set_by_s + 1.0
        steady.now_s += 1.0
        await feed.turn()
        soon = taken(viewer)[-1][1]["link"]
        clock.now_s += 3.0
        steady.now_s += 3.0
        await feed.turn()
        return soon, taken(viewer)[-1][1]

    soon, later = run(told())
    assert soon["age_s"] == 1
    assert (later["link"]["age_s"], later["figures"]["link_is_stale"]) == (4, True)


def test_a_lost_bench_is_told_with_its_reason(feed: Feed, opened: Keeper) -> None:
    async def told() -> Any:
        feed.on_live(live(2.0))
        viewer = await watching(feed)
        taken(viewer)
        lost = Status(site=BAY_3.site, bench=BAY_3.bench, boot="b1", state="offline", reason="lost")
        feed.on_status(lost)
        await feed.turn()
        return taken(viewer)[0][1]

    change = run(told())
    assert (change["link"]["state"], change["link"]["reason"]) == ("offline", "lost")
    assert change["figures"]["link_is_stale"] is True


def test_a_viewer_that_is_too_slow_gets_the_state_anew(
    feed: Feed, opened: Keeper, clock: HandClock
) -> None:
    async def told() -> Any:
        viewer = await watching(feed)
        taken(viewer)
        for n in range(QUEUE_N + 3):
            clock.now_s += 0.5
            feed.on_live(live(10.0 + n))
            await feed.turn()
        behind = taken(viewer)
        clock.now_s += 0.5
        feed.on_live(live(99.0))
        await feed.turn()
        return behind, taken(viewer)

    behind, after = run(told())
    assert [event for event, _ in behind] == ["snapshot"]
    assert behind[0][1]["figures"]["t"] == 10.0 + QUEUE_N + 2
    assert [event for event, _ in after] == ["change"]


def test_a_stream_ends_when_the_feed_does_and_beats_meanwhile(feed: Feed, opened: Keeper) -> None:
    async def told() -> list[bytes]:
        viewer = await watching(feed)
        viewer._beat_s = 0.01
        got: list[bytes] = []
        async for one in feed.stream(viewer):
            got.append(one)
            if one.startswith(b"event: beat"):
                feed.close()
        assert await feed.open(*KEY) is None
        return got

    got = run(told())
    assert [one.partition(b"\n")[0] for one in got] == [
        b"retry: 1000", b"event: snapshot", b"event: beat",
    ]  # fmt: skip
    assert feed._viewers_n() == 0


def test_a_bench_that_breaks_something_stops_no_other_board(
    feed: Feed,
    opened: Keeper,
    clock: HandClock,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    def broken(site: str, bench: str, *given: Any) -> BoardState:
        if bench == "bay-9":
            raise ZeroDivisionError
        return compose(site, bench, *given)

    async def told() -> list[tuple[str, Any]]:
        await feed.open("north", "bay-9")
        viewer = await watching(feed)
        taken(viewer)
        monkeypatch.setattr(hub, "compose", broken)
        clock.now_s += 0.5
        feed.on_live(msgspec.structs.replace(live(2.0), bench="bay-9"))
        feed.on_live(live(2.0))
        for _ in range(3):
            await feed.turn()
        return taken(viewer)

    assert [event for event, _ in run(told())] == ["change"]
    assert [one.levelname for one in caplog.records] == ["ERROR"]  # once, not in every turn


def test_what_keeps_the_server_from_its_work_is_told_at_once(
    store: Store, opened: Keeper, clock: HandClock
) -> None:
    faults: list[str] = []
    feed = Feed(store, clock, faults=lambda: tuple(faults))

    async def told() -> Any:
        viewer = await watching(feed)
        first = taken(viewer)[0][1]
        faults.append("the store refuses: the disk is full")
        clock.now_s += 1.0
        await feed.turn()
        return first, taken(viewer)

    first, ((_, change),) = run(told())
    assert first["server"]["faults"] == []
    assert change["server"]["faults"] == faults
    assert set(change) == {"server", "link"}  # its age has grown


def test_figures_of_another_job_are_not_shown(feed: Feed, opened: Keeper) -> None:
    feed.on_live(live(2.0, job="j-other"))
    ((_, state),) = taken(run(watching(feed)))
    assert state["figures"] is None
    assert state["trend"]["t"] == []


def test_another_job_begins_a_trend_of_its_own(
    feed: Feed, opened: Keeper, clock: HandClock
) -> None:
    async def told() -> Any:
        feed.on_live(live(2.0))
        viewer = await watching(feed)
        taken(viewer)
        opened.keep([numbered(5, BODIES[-1]), numbered(6, BODIES[0], job="j-2")])
        feed.on_news([KEY])
        feed.on_live(live(0.5, job="j-2"))
        await feed.turn()
        return taken(viewer)[-1][1]

    change = run(told())
    assert change["job"]["job"] == "j-2"
    assert change["trend"]["t"] == [0.5]
    assert "trend_add" not in change


def test_a_bench_without_a_job_shows_the_next_one_or_nothing(feed: Feed, store: Store) -> None:
    ((_, state),) = taken(run(watching(feed)))
    assert (state["job"], state["procedure"]["step"], state["cue"]) == (None, None, None)


def test_a_job_that_is_done_stays_on_show_for_a_while(
    feed: Feed, opened: Keeper, clock: HandClock
) -> None:
    rest = [numbered(seq, body) for seq, body in enumerate(BODIES[4:], start=5)]
    opened.keep(rest)
    clock.now_s = rest[-1].received_s + 60.0
    ((_, state),) = taken(run(watching(feed)))
    assert (state["job"]["state"], state["result"]["is_final"]) == ("done", True)
    assert state["result"]["net_20C_L"] == 0.4
    clock.now_s += 13 * 3600.0
    ((_, later),) = taken(run(watching(Feed(feed._store, clock))))
    assert later["job"] is None
