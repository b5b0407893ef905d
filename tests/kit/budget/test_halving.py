"""What would halve an uncertainty: doing it does."""

from hypothesis import given
from hypothesis import strategies as st

from drainscale.budget.halving import ADVICE, advice, what_halves
from drainscale.budget.terms import all_terms
from drainscale.quantities.measured import Measured

SIZES = st.lists(st.floats(0.01, 10.0), min_size=1, max_size=8)


def named(sizes: list[float]) -> Measured:
    return Measured.of_components(1.0, [(f"cause {n}", u) for n, u in enumerate(sizes)])


@given(sizes=SIZES)
def test_shrinking_those_sources_to_that_part_halves_u(sizes: list[float]) -> None:
    before = named(sizes)
    halving = what_halves(before)
    after = Measured.of_components(
        1.0,
        [
            (s.source, s.u * (halving.to if s.source in halving.sources else 1.0))
            for s in before.shares
        ],
    )
    assert abs(after.u - before.u / 2.0) < 1e-9 * before.u


@given(sizes=SIZES)
def test_one_source_fewer_could_not_do_it(sizes: list[float]) -> None:
    before = named(sizes)
    spared = what_halves(before).sources[:-1]
    left = sum(s.fraction for s in before.shares if s.source not in spared)
    assert not spared or left >= 0.25


def test_one_source_alone_is_halved_itself() -> None:
    halving = what_halves(named([2.0]))
    assert halving.sources == ("cause 0",)
    assert halving.to == 0.5


def test_advice_is_there_for_every_source_that_can_dominate() -> None:
    assert {term.name for term in all_terms()} - set(ADVICE) == {
        "converter drift, offset",
        "converter drift, gain",
    }
    assert "hardly worth it" in advice("converter drift, gain")
