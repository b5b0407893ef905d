"""An onlooker sees what is kept, after it is kept, and nothing is kept otherwise for it."""

from collections.abc import Iterable
from pathlib import Path

from tests.kit.agent.benches import bench_of, order

from drainscale.agent.job_run import JobRun
from drainscale.agent.onlooker import WatchedKeeper
from drainscale.core import Live
from drainscale.messages.records import Body, CueShown
from drainscale.quantities.samples import PanReading, Sample


class Paper:
    """Keeps a job, and looks at it, on one list: the order shows."""

    def __init__(self) -> None:
        self.lines: list[tuple[str, object]] = []

    def samples(self, samples: Iterable[Sample]) -> None:
        self.lines += [("kept", sample) for sample in samples]

    def tell(self, body: Body) -> None:
        self.lines.append(("kept", body))

    def turn(self, live: Live | None) -> None:
        self.lines.append(("turned", live))

    def settle(self, timeout_s: float) -> bool:
        self.lines.append(("settled", None))
        return timeout_s > 1.0

    def status(self) -> str:
        return "paper=ok"

    def told(self, body: Body) -> None:
        self.lines.append(("seen", body))

    def looked(self, live: Live) -> None:
        self.lines.append(("seen", live))


def test_a_record_is_kept_before_it_is_seen_and_figures_are_seen_when_they_are_new(
    tmp_path: Path,
) -> None:
    paper = Paper()
    keeper = WatchedKeeper(paper, paper)
    run = JobRun(bench_of(tmp_path).with_order(order()), keeper)
    reading = PanReading(0.1, 21.0)
    run.feed([reading])
    live = run.look(0.2)
    assert live is not None
    keeper.turn(live)
    keeper.turn(None)
    assert keeper.settle(2.0)
    assert not keeper.settle(0.5)
    cue = CueShown(t=0.2, cue=live.cue.name, reason=live.cue.reason, step=live.step)
    assert paper.lines == [
        ("kept", reading),
        ("kept", cue),
        ("seen", cue),
        ("turned", live),
        ("seen", live),
        ("turned", None),
        ("settled", None),
        ("settled", None),
    ]
    assert keeper.status() == "paper=ok"
