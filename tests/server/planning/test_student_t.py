"""Quantiles against printed tables.

Source of T_95: JCGM 100:2008 (GUM), table G.2, column 95 %, from memory; of T_90 and T_99: the same
table. They agree with the NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drainscale_server.planning.student_t import central_probability, coverage_factor

T_90 = [(1, 6.31), (2, 2.92), (3, 2.35), (4, 2.13), (5, 2.02), (10, 1.81), (20, 1.72), (50, 1.68)]
T_95 = [(1, 12.71), (2, 4.30), (3, 3.18), (4, 2.78), (5, 2.57), (10, 2.23), (20, 2.09), (50, 2.01)]
T_99 = [(1, 63.66), (2, 9.92), (3, 5.84), (4, 4.60), (5, 4.03), (10, 3.17), (20, 2.85), (50, 2.68)]


@pytest.mark.parametrize(
    ("probability", "dof", "printed"),
    [
        (probability, dof, t)
        for probability, column in ((0.90, T_90), (0.95, T_95), (0.99, T_99))
        for dof, t in column
    ],
)
def test_it_gives_the_values_of_the_printed_table(
    probability: float, dof: int, printed: float
) -> None:
    assert coverage_factor(probability, dof) == pytest.approx(printed, abs=0.005001)


def test_with_many_degrees_of_freedom_it_is_the_normal_distribution() -> None:
    # NIST/SEMATECH e-Handbook, 1.3.6.7.1: 1.95996 holds 95 %
    assert coverage_factor(0.95, 100_001) == pytest.approx(1.95996, abs=5e-5)


@given(st.floats(0.001, 0.999), st.integers(1, 60))
def test_the_quantile_undoes_the_probability(probability: float, dof: int) -> None:
    t = coverage_factor(probability, dof)
    assert central_probability(t, dof) == pytest.approx(probability, abs=1e-12)


@pytest.mark.parametrize(("probability", "dof"), [(0.0, 3), (1.0, 3), (0.9, 0)])
def test_it_refuses_what_has_no_quantile(probability: float, dof: int) -> None:
    with pytest.raises(ValueError, match=r"must|dof"):
        coverage_factor(probability, dof)
