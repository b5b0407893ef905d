from random import Random

import pytest

from drainscale_server.planning.history import predict


def test_three_jobs_give_the_interval_of_the_handbook_formula() -> None:
    # mean 4.0, s 0.1, t(2) = 2.920 for 90 % (GUM table G.2, from memory), sqrt(1 + 1/3)
    told = predict([3.9, 4.0, 4.1])
    assert told is not None
    assert told.mean_L == pytest.approx(4.0)
    assert told.high_L - 4.0 == pytest.approx(2.920 * 0.1 * 1.154701, rel=2e-4)
    assert 4.0 - told.low_L == pytest.approx(told.high_L - 4.0)


@pytest.mark.parametrize("volumes_L", [[], [4.0], [4.0, 4.1]])
def test_fewer_than_three_jobs_predict_nothing(volumes_L: list[float]) -> None:
    assert predict(volumes_L) is None


def test_no_litres_below_zero_are_promised() -> None:
    told = predict([0.1, 1.0, 2.0])
    assert told is not None
    assert told.low_L == 0.0


def test_a_volume_that_is_not_finite_is_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        predict([1.0, 2.0, float("nan")])


def test_ninety_of_a_hundred_further_services_lie_in_the_interval() -> None:
    # 4,000 shops with five jobs each; sigma of the share is 0.005
    dice = Random("shops")
    held = 0
    for _ in range(4000):
        told = predict([dice.gauss(4.0, 0.2) for _ in range(5)])
        assert told is not None
        held += told.low_L <= dice.gauss(4.0, 0.2) <= told.high_L
    assert held / 4000 == pytest.approx(0.90, abs=0.015)
