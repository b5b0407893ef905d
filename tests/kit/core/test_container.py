"""How full the drain container is."""

import pytest

from drainscale.core.container import Container

KG_PER_L = 0.84


def standing(capacity_L: float = 8.0, start_L: float = 0.0, kg: float = 1.0) -> Container:
    container = Container(capacity_L, start_L)
    container.stands(kg)
    return container


def test_it_holds_what_was_in_it_and_what_it_gained() -> None:
    container = standing(start_L=2.0)
    container.reads(1.0 + 3.0 * KG_PER_L)
    assert container.content_L(KG_PER_L) == pytest.approx(5.0)


def test_ninety_percent_is_full_and_told_once() -> None:
    container = standing(capacity_L=8.0, start_L=5.0)
    container.reads(1.0 + 2.19 * KG_PER_L)
    assert not container.is_newly_full(KG_PER_L)
    container.reads(1.0 + 2.21 * KG_PER_L)
    assert container.is_newly_full(KG_PER_L)
    assert not container.is_newly_full(KG_PER_L)


def test_what_stood_in_it_stays_in_it_while_it_is_away() -> None:
    container = standing()
    container.reads(1.0 + 4.0 * KG_PER_L)
    container.lifted(KG_PER_L)
    assert container.content_L(KG_PER_L) == pytest.approx(4.0)
    container.put_back(1.0 + 4.0 * KG_PER_L, KG_PER_L, is_same=True)
    assert container.content_L(KG_PER_L) == pytest.approx(4.0)


def test_one_that_comes_back_lighter_was_emptied_by_that_much() -> None:
    container = standing()
    container.reads(1.0 + 4.0 * KG_PER_L)
    container.lifted(KG_PER_L)
    container.put_back(1.0 + 1.0 * KG_PER_L, KG_PER_L, is_same=False)
    assert container.content_L(KG_PER_L) == pytest.approx(1.0)


def test_forty_grams_less_is_still_the_same_load_and_sixty_is_not() -> None:
    """A container that comes back lighter by more than 50 g counts as emptied by that much."""
    container = standing()
    container.lifted(KG_PER_L)
    assert container.weighs_like(0.96)
    assert not container.weighs_like(0.94)


def test_another_one_starts_empty() -> None:
    container = standing(start_L=3.0)
    container.lifted(KG_PER_L)
    container.put_back(1.4, KG_PER_L, is_same=False)
    assert container.content_L(KG_PER_L) == pytest.approx(0.0)


def test_a_full_one_that_was_emptied_can_get_full_again() -> None:
    container = standing(capacity_L=4.0)
    container.reads(1.0 + 3.7 * KG_PER_L)
    assert container.is_newly_full(KG_PER_L)
    container.lifted(KG_PER_L)
    container.put_back(1.0, KG_PER_L, is_same=False)
    container.reads(1.0 + 3.7 * KG_PER_L)
    assert container.is_newly_full(KG_PER_L)
