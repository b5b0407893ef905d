from pathlib import Path
from typing import Any

import pytest

from drainscale.core import level_check
from drainscale_sim.ablation.command import PARTS, chosen, main
from drainscale_sim.ablation.cost import badness, compare
from drainscale_sim.ablation.part import part, switched
from drainscale_sim.ablation.runs import Run
from drainscale_sim.score.figures import REACH
from drainscale_sim.score.grade import Graded

RECORDINGS = Path(__file__).parents[1] / "data/recordings"
BY_NAME = {figure.name: figure for figure in REACH}


@pytest.mark.parametrize("one", PARTS, ids=lambda one: one.key)
def test_each_part_still_fits_the_core(one: Any) -> None:
    """What it replaces is there, is replaced, and is put back."""
    before = [vars(patch.owner)[patch.name] for patch in one.patches]
    with switched(one):
        assert [vars(patch.owner)[patch.name] for patch in one.patches] != before
    assert [vars(patch.owner)[patch.name] for patch in one.patches] == before


def test_names_of_parts_are_unique() -> None:
    assert len({one.key for one in PARTS}) == len(PARTS)


def test_a_part_that_the_core_has_lost_is_told() -> None:
    gone = part("gone", "a part", "nothing", (level_check, "NO_SUCH_THING", 0.0))
    with pytest.raises(AttributeError, match="NO_SUCH_THING"), switched(gone):
        pass


def test_a_part_is_put_back_after_an_error() -> None:
    one = part("margin", "margin", "none", (level_check, "FIRST_PASSAGE", 7.0))
    before = level_check.FIRST_PASSAGE
    with pytest.raises(ZeroDivisionError), switched(one):
        raise ZeroDivisionError
    assert before == level_check.FIRST_PASSAGE


def test_an_unknown_name_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--only", "no-such-part"]) == 2
    assert "no-such-part" in capsys.readouterr().err


def test_some_parts_can_be_chosen() -> None:
    assert [one.key for one in chosen(["soak", "ripple"])] == ["ripple", "soak"]


def graded(name: str, value: float, *, keeps: bool) -> Graded:
    return Graded(BY_NAME[name], value, 10, keeps, None)


def run_of(answer: bytes, *grades: Graded) -> Run:
    return Run({one.figure.name: one for one in grades}, {"small": answer}, {})


def test_a_figure_that_falls_short_comes_first_and_is_counted() -> None:
    full = run_of(
        b"a", graded("stage mass, median", 0.3, keeps=True), graded("net, median", 1.0, keeps=True)
    )
    without = run_of(
        b"b",
        graded("stage mass, median", 0.49, keeps=True),
        graded("net, median", 1.3, keeps=False),
    )
    found = compare(PARTS[0], full, without)
    assert [move.figure.name for move in found.moves] == ["net, median", "stage mass, median"]
    assert (found.musts_lost, found.changed) == (1, 1)
    assert found.moves[1].cost == pytest.approx((0.49 - 0.3) / 0.5)


def test_what_changes_nothing_costs_nothing() -> None:
    full = run_of(b"a", graded("stage mass, median", 0.3, keeps=True))
    found = compare(PARTS[0], full, full)
    assert (found.moves, found.changed, found.musts_lost) == ((), 0, 0)


def test_a_share_is_worse_when_it_falls_where_more_is_better() -> None:
    figure = BY_NAME["close-plug: 0.8 to 1.2"]
    assert badness(figure, 80.0) - badness(figure, 95.0) == pytest.approx(1.5)


def test_wider_intervals_are_no_loss_of_coverage() -> None:
    figure = BY_NAME["net: U covers truth"]
    assert badness(figure, 100.0) == badness(figure, 90.0) == 0.0


def test_without_buoyancy_the_mass_of_a_service_is_short_by_a_thousandth(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """0.126 % of some 3 to 4 kg: OIML D 28, conventional mass."""
    for file in RECORDINGS.glob("several-jugs.*"):
        (tmp_path / file.name).symlink_to(file)
    table = tmp_path / "table.md"
    assert main([str(tmp_path), "--only", "buoyancy", "--markdown", str(table)]) == 0
    assert "answers changed: 1 of 1" in capsys.readouterr().out
    row = table.read_text(encoding="utf-8").splitlines()[2]
    assert "added mass" in row
