"""Services in closed loop: what became of each, and whether its recording replays to the same."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from pathlib import Path
from tempfile import TemporaryDirectory

from rich.table import Table

from drainscale_sim.closed_loop.judging import Judged, LEVEL_OFF_mL, judge, world_truth
from drainscale_sim.closed_loop.service import Place, serve
from drainscale_sim.soak.replays import Replayed, replayed
from drainscale_sim.soak.summary import Claim, new_table, word
from drainscale_sim.world.world import World

LEAST_RIGHT_TENTHS = 9
APART_ms = 1.0


@dataclass(frozen=True)
class Ran:
    """One service; a line of why in place of what came to nothing."""

    scenario: str
    seed: int
    judged: Judged | str
    replayed: Replayed | str | None = None  # None: not asked for

    @property
    def is_right(self) -> bool:
        """Whether it was sealed right."""
        return isinstance(self.judged, Judged) and self.judged.is_sealed_right

    @property
    def is_same(self) -> bool:
        """Whether live and replay are the same byte for byte, and nothing was to be said of it."""
        found = self.replayed
        return isinstance(found, Replayed) and found.is_same and not found.said

    def __str__(self) -> str:
        return self.judged if isinstance(self.judged, str) else self.judged.verdict


def run_service(scenario: str, seed: int, folder: Path, *, is_replayed: bool) -> Ran:
    """Run one service with its world in this process.

    Args:
        scenario: Its file's name.
        seed: The run.
        folder: Where the run keeps its things, while it lasts.
        is_replayed: Whether to replay its recording as well.
    """
    world = World.of(scenario, seed)
    with TemporaryDirectory(dir=folder) as own:
        place = Place(Path(own))
        finished = serve(world, lambda: world.is_over, world.setup.job, seed, place)
        again = replayed(finished, place.spool, place.folder) if is_replayed else None
    try:
        truth = world_truth(world, f"{scenario}-{seed}")
    except ValueError as error:  # the level plug was never opened: no level to judge
        return Ran(scenario, seed, str(error), again)
    presses = len(world.bay.ledger.presses_s)
    judged = judge(finished.answer, truth, is_done=finished.is_done, presses=presses)
    return Ran(scenario, seed, judged, again)


def services_table(scenario: str, rows: Sequence[Ran]) -> Table:
    """Draw what became of the services of one scenario."""
    table = new_table(
        f"{scenario}: services in closed loop, {len(rows)} seeds",
        ("seed", "verdict", "right"),
        (
            "took\ns", "tries", "shut\n°C", "above\nrim mL", "of limit\nmL",
            "drained\noff mL", "added\noff g", "spilled\noff g",
        ),
    )  # fmt: skip
    for row in rows:
        told = row.judged
        figures: tuple[str, ...] = ()
        if isinstance(told, Judged):
            figures = (
                f"{told.took_s:.0f}",
                str(told.attempts),
                f"{told.shut_C:.1f}",
                f"{told.excess_mL:.0f}",
                f"{told.thin_mL:.0f}",
                f"{told.drained_off_mL:+.1f}",
                f"{told.added_off_g:+.1f}",
                f"{told.spilled_off_g:+.1f}",
            )
        table.add_row(str(row.seed), str(row), word(row.is_right), *figures)
    return table


def services_claim(scenario: str, rows: Sequence[Ran]) -> Claim:
    """Claim that nearly all services of a scenario are sealed right."""
    right_n, least_n = sum(row.is_right for row in rows), ceil(LEAST_RIGHT_TENTHS * len(rows) / 10)
    return Claim(
        f"{scenario}: in the window, within {LEVEL_OFF_mL:.0f} mL of the rim",
        f"{right_n} of {len(rows)}",
        f"{least_n} of {len(rows)}",
        right_n >= least_n,
    )


def replays_table(rows: Sequence[Ran]) -> Table:
    """Draw live beside replay: a row a scenario, and one for each service that differs."""
    table = new_table(
        "live = replay: each service's own recording, replayed",
        ("services", "answer", "same"),
        ("recordings", "answers\nkB", "times\ncompared", "apart\nms"),
    )
    for scenario in dict.fromkeys(row.scenario for row in rows):
        of_it = [row for row in rows if row.scenario == scenario]
        same = [row for row in of_it if row.is_same]
        told = f"{len(same)} the same to the last byte"
        table.add_row(scenario, told, word(len(same) == len(of_it)), *_sums(of_it))
        for row in of_it:
            if not row.is_same:
                table.add_row(f"{scenario} {row.seed}", _other(row.replayed), "NO", *_sums([row]))
    return table


def _sums(rows: Sequence[Ran]) -> tuple[str, str, str, str]:
    found = [row.replayed for row in rows if isinstance(row.replayed, Replayed)]
    return (
        str(len(found)),
        f"{sum(one.bytes_n for one in found) / 1e3:.0f}",
        str(sum(one.times_n for one in found)),
        f"{_apart_ms(rows):.3f}",
    )


def _apart_ms(rows: Sequence[Ran]) -> float:
    found = [row.replayed for row in rows]
    return max(
        (one.apart_ms if isinstance(one, Replayed) else float("inf") for one in found), default=0.0
    )


def _other(found: Replayed | str | None) -> str:
    if isinstance(found, Replayed):
        return found.said or "another answer"
    return found or "not replayed"


def replays_claims(rows: Sequence[Ran]) -> list[Claim]:
    """Claim that live and replay answer the same."""
    same_n, apart_ms = sum(row.is_same for row in rows), _apart_ms(rows)
    return [
        Claim(
            "live = replay: the same bytes",
            f"{same_n} of {len(rows)} services",
            "all",
            same_n == len(rows) > 0,
        ),
        Claim(
            "live = replay: all times",
            f"{apart_ms:.3f} ms apart at most",
            f"{APART_ms:.0f} ms",
            apart_ms <= APART_ms,
        ),
    ]
