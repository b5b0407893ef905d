"""Linearity of a scale's calibration by an ISO/TS 28037 line."""

import pytest

from drainscale.errors import QuantityError
from drainscale.quantities.job import ScaleSettings
from drainscale.quantities.linearity import check_linearity

MASSES = (0.0, 5.0, 10.0, 15.0)


def scale(
    bend_kg: float = 0.0, u_kg: float = 0.0005, repeatability_kg: float = 0.0004
) -> ScaleSettings:
    """A cell of 200000 counts/kg that shows its third weight ``bend_kg`` too heavy."""
    counts = tuple(12_000.0 + 200_000.0 * (m + (bend_kg if m == 10.0 else 0.0)) for m in MASSES)
    return ScaleSettings(20.0, 10.0, MASSES, counts, u_kg, repeatability_kg)


def test_a_straight_cell_passes() -> None:
    result = check_linearity(scale())
    assert result.is_tested
    assert result.is_linear
    assert result.largest_deviation_kg == pytest.approx(0.0, abs=1e-9)


def test_a_bend_within_the_uncertainties_passes() -> None:
    assert check_linearity(scale(bend_kg=0.0006)).is_linear


def test_a_wrong_weight_is_found_and_located() -> None:
    result = check_linearity(scale(bend_kg=0.01))
    assert not result.is_linear
    assert max(range(4), key=lambda i: abs(result.deviations_kg[i])) == 2


def test_falling_counts_are_as_good() -> None:
    rising = scale(bend_kg=0.003)
    mirrored = ScaleSettings(
        20.0, 10.0, MASSES, tuple(-c for c in rising.calibration_counts), 0.0005, 0.0004
    )
    ours, theirs = check_linearity(rising), check_linearity(mirrored)
    assert ours.line.chi2 == pytest.approx(theirs.line.chi2)
    assert ours.deviations_kg == pytest.approx(theirs.deviations_kg)


@pytest.mark.parametrize("offset", [-2_500_000.0, 3_000_000.0])
def test_an_offset_of_the_counts_changes_nothing(offset: float) -> None:
    plain = scale(bend_kg=0.001)
    counts = tuple(count + offset for count in plain.calibration_counts)
    shifted = ScaleSettings(20.0, 10.0, MASSES, counts, 0.0005, 0.0004)
    ours, theirs = check_linearity(shifted), check_linearity(plain)
    assert ours.line.chi2 == pytest.approx(theirs.line.chi2, rel=1e-6)
    assert ours.deviations_kg == pytest.approx(theirs.deviations_kg, abs=1e-9)


def test_two_points_are_not_tested() -> None:
    two = ScaleSettings(20.0, 10.0, (0.0, 5.0), (0.0, 1e6), 0.0005, 0.0004)
    assert not check_linearity(two).is_tested


def test_without_any_uncertainty_there_is_no_test() -> None:
    with pytest.raises(QuantityError, match="without uncertainty"):
        check_linearity(scale(u_kg=0.0, repeatability_kg=0.0))
