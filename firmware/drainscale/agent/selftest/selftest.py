"""The whole self-test in order: what needs nobody first, what needs a person last."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from drainscale.agent.bench_file import Bench
from drainscale.agent.devices import Devices
from drainscale.agent.selftest.findings import Finding, Findings, Person
from drainscale.agent.selftest.house import check_broker, check_clock, check_spool
from drainscale.agent.selftest.people import check_foot_switch, check_lamps
from drainscale.agent.selftest.scale import check_scale
from drainscale.agent.selftest.thermocouple import check_thermocouple


@dataclass(frozen=True, slots=True)
class Standing:
    """How the bench stands while it is tested; nobody can tell that from its sensors."""

    is_loaded: bool = False  # a container stands on the drain scale
    is_warm: bool = False  # the thermocouple is clamped to a warm pan


def self_test(bench: Bench, devices: Devices, person: Person, standing: Standing) -> Findings:
    """Test a bench, one finding after the other as they come.

    Args:
        bench: What the bench file says.
        devices: How its devices are opened; nothing else may hold them.
        person: Who stands there.
        standing: How the bench stands.
    """
    try:
        yield from _all(bench, devices, person, standing)
    finally:
        devices.close()


def _all(bench: Bench, devices: Devices, person: Person, standing: Standing) -> Findings:
    clock = devices.clock
    yield from check_clock(clock)
    yield from check_spool(bench.spool)
    names = bench.bench
    yield from check_broker(bench.uplink, f"drainscale-{names.site}.{names.bench}-selftest")
    yield from check_thermocouple(devices.thermometer, clock, is_warm=standing.is_warm)
    yield from check_scale(
        "drain", devices.drain_cell, bench.scale, clock, person, is_loaded=standing.is_loaded
    )
    if devices.supply_cell is not None and bench.supply_scale is not None:
        yield from check_scale("supply", devices.supply_cell, bench.supply_scale, clock, person)
    yield from check_foot_switch(devices.foot_switch, clock, person)
    yield from check_lamps(devices.indicator, clock, person)


def told(findings: Findings, say: Callable[[str], None]) -> Sequence[Finding]:
    """Say each finding as it comes, then the sum of them."""
    found: list[Finding] = []
    for finding in findings:
        say(finding.line())
        found.append(finding)
    failed = sum(one.verdict == "FAIL" for one in found)
    unasked = sum(one.verdict == "not asked" for one in found)
    say(f"{len(found)} checks, {failed} failed, {unasked} not asked")
    return found
