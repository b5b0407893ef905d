"""The broker is gone for ten minutes of a service: nothing is lost, nothing comes twice."""

from pathlib import Path

import pytest

from drainscale_sim.closed_loop.brokers import find_mosquitto
from drainscale_sim.soak import outage as outages
from drainscale_sim.soak.outage import BROKERS, NO_MOSQUITTO, Outage, outlive

SCENARIO, SEED = "check-plug", 11  # a quick one


@pytest.fixture(scope="module", params=BROKERS)
def outage(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Outage:
    if request.param == "mosquitto" and find_mosquitto() is None:
        pytest.skip("no mosquitto here: tools/setup.sh installs it")
    folder = tmp_path_factory.mktemp("gone")
    found = outlive(request.param, SCENARIO, SEED, folder / request.param)
    assert not isinstance(found, str), found
    return found


def test_it_was_there_then_gone_for_ten_minutes(outage: Outage) -> None:
    assert outage.back_s - outage.went_s >= 600.0
    assert 100 < outage.before_n == outage.while_gone_n < outage.sent_n


def test_no_message_is_lost(outage: Outage) -> None:
    assert (outage.missing_n, outage.failures) == (0, ())


def test_nothing_is_stored_twice(outage: Outage) -> None:
    assert (outage.twice_n, outage.strange_n) == (0, 0)
    assert outage.samples_n > 10_000


def test_the_measuring_never_waited_for_it(outage: Outage) -> None:
    assert outage.is_done
    assert outage.gaps_n == 0
    assert outage.is_same  # what the server has answers as the bench did, byte for byte
    assert outage.is_good


def test_without_mosquitto_it_does_not_run_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(outages, "find_mosquitto", lambda: None)
    assert outlive("mosquitto", SCENARIO, SEED, tmp_path / "none") == NO_MOSQUITTO
