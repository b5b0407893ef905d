"""What the self-test makes of readings that no board here gives: judged by hand-made ones."""

import shutil
from collections.abc import Iterable
from pathlib import Path
from random import Random
from typing import NamedTuple

import pytest
from tests.kit.agent.benches import COUNTS_PER_KG, SCALE, ZERO

from drainscale.agent.bench_file import SpoolPlace
from drainscale.agent.selftest import house, scale, thermocouple
from drainscale.agent.selftest.findings import Finding, Part
from drainscale.agent.selftest.scale_data import Conversions
from drainscale.agent.selftest.thermocouple import Readings


def failures(found: Iterable[Finding]) -> set[str]:
    return {one.check for one in found if one.verdict == "FAIL"}


def conversions(times_s: Iterable[float]) -> Conversions:
    random, times = Random(1), tuple(times_s)
    counts = tuple(round(random.gauss(ZERO, 1e-4 * COUNTS_PER_KG)) for _ in times)
    return Conversions(times, counts)


def test_scale_that_gives_each_conversion_is_sound() -> None:
    data = conversions(0.1 * i for i in range(100))
    assert failures(scale.judge(Part("drain scale"), data, SCALE)) == set()


def test_scale_that_loses_every_tenth_conversion_is_found() -> None:
    data = conversions(0.1 * i for i in range(100) if i % 10 != 5)
    assert failures(scale.judge(Part("drain scale"), data, SCALE)) == {"complete"}


def readings(
    pan_C: list[float], times_s: list[float] | None = None, board_C: float = 22.0
) -> Readings:
    times = times_s or [0.5 * i for i in range(len(pan_C))]
    return Readings(times, pan_C, [board_C] * len(pan_C), frames=len(pan_C))


def judged(given: Readings) -> set[str]:
    return failures(thermocouple.judge(Part("thermocouple"), given, is_warm=False))


def test_thermocouple_at_room_temperature_is_sound() -> None:
    assert judged(readings([22.0, 22.25, 22.0, 21.75])) == set()


def test_thermocouple_that_jumps_has_a_loose_lead() -> None:
    assert judged(readings([22.0, 22.25, 30.0, 22.0])) == {"steady"}


def test_thermocouple_that_is_seldom_heard_is_found() -> None:
    assert judged(readings([22.0, 22.0, 22.0], [0.0, 0.5, 3.0])) == {"pace"}


@pytest.mark.parametrize("board_C", [-30.0, 85.0])
def test_converter_too_cold_or_hot_to_be_true_is_found(board_C: float) -> None:
    assert "converter" in judged(readings([22.0, 22.0], board_C=board_C))


class Usage(NamedTuple):
    total: int
    used: int
    free: int


def test_card_that_is_nearly_full_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: Usage(10**10, 10**10 - 10**8, 10**8))
    assert failures(house.check_spool(SpoolPlace(str(tmp_path)))) == {"room"}


def test_card_that_takes_too_long_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ticks = iter(range(10**6))
    monkeypatch.setattr("time.monotonic", lambda: float(next(ticks)))  # a second a look
    assert "writes" in failures(house.check_spool(SpoolPlace(str(tmp_path))))
