import itertools

import pytest

from drainscale_server.record.drawing import runs
from drainscale_server.record.model import FlowPoint, ServiceRecord
from drainscale_server.record.plots import FLOW_GAP_S
from drainscale_server.record.sources import Sources
from drainscale_server.record.trend import Block, BlockMaker, flows

RHO = 850.0


def weighed(flow_mL_per_min: float, seconds: int, start_kg: float = 1.0) -> list[Block]:
    kg_per_s = flow_mL_per_min / 60e3 * RHO / 1e3
    return [Block(float(t), start_kg + kg_per_s * t) for t in range(0, seconds, 2)]


@pytest.mark.parametrize("flow_mL_per_min", [3.0, 60.0, 1500.0, -1800.0])
def test_a_straight_line_gives_its_flow(flow_mL_per_min: float) -> None:
    told = dict(flows(weighed(flow_mL_per_min, 200), RHO, [(0.0, 200.0)]))
    assert told[100.0] == pytest.approx(flow_mL_per_min, rel=1e-9)


def test_a_container_put_down_is_no_flow() -> None:
    before, after = weighed(600.0, 60), weighed(600.0, 60, start_kg=2.5)
    told = dict(
        flows(before + [Block(one.t + 60.0, one.mass_kg) for one in after], RHO, [(0, 120)])
    )
    assert told[58.0] is None
    assert told[30.0] == pytest.approx(600.0)
    assert told[90.0] == pytest.approx(600.0)


def test_no_window_reaches_over_the_end_of_its_step() -> None:
    still = [Block(float(t), 1.0) for t in range(0, 100, 2)]
    runs = [Block(100.0 + one.t, one.mass_kg) for one in weighed(60.0, 100)]
    told = list(flows(still + runs, RHO, [(0.0, 100.0), (100.0, 200.0)]))
    by_time = dict(told)
    assert by_time[98.0] in (None, pytest.approx(0.0))
    assert by_time[150.0] == pytest.approx(60.0)
    assert (100.0, None) in told


def test_silence_is_no_flow() -> None:
    gapped = [one for one in weighed(60.0, 200) if not 80.0 <= one.t < 160.0]
    before, after = runs(flows(gapped, RHO, [(0.0, 200.0)]), FLOW_GAP_S)
    assert before[-1][0] < 80.0
    assert after[0][0] >= 160.0
    assert before[10][1] == pytest.approx(60.0)


def test_a_single_wrong_count_does_not_show() -> None:
    maker = BlockMaker()
    for n in range(40):
        maker.add(n / 10.0, 9.9 if n == 7 else 1.0)
    assert [one.mass_kg for one in maker.blocks()] == [1.0, 1.0]


def _between(record: ServiceRecord, from_s: float, to_s: float) -> list[FlowPoint]:
    return [one for one in record.trends.flow if from_s <= one.t < to_s]


def test_the_plotted_flow_adds_up_to_what_the_kit_weighed(record: ServiceRecord) -> None:
    stage = record.volumes.stages[1]
    assert stage.started_s is not None
    assert stage.as_it_ran.value_L is not None
    points = list(_between(record, stage.started_s, stage.started_s + 360.0))
    known = [(one.t, one.flow_mL_per_min) for one in points if one.flow_mL_per_min is not None]
    ran_mL = sum((t2 - t1) / 60.0 * (a + b) / 2.0 for (t1, a), (t2, b) in itertools.pairwise(known))
    assert ran_mL / 1e3 == pytest.approx(stage.as_it_ran.value_L, rel=0.10)


def test_the_plotted_flow_at_the_shut_cue_is_that_of_the_kit(
    record: ServiceRecord, sources: Sources
) -> None:
    shut_s = next(one.t for one in sources.events if one.event == "close-plug")
    near = [one.flow_mL_per_min for one in _between(record, shut_s - 8.0, shut_s + 2.0)]
    known = [one for one in near if one is not None]
    assert sources.result is not None
    told = sources.result["level"]["flow_at_close_mL_per_min"]
    assert min(known) * 0.8 <= told <= max(known) * 1.25
