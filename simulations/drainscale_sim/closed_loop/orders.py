"""What a scenario's job says, split as it is on a real bench: bench file and order."""

from pathlib import Path

from drainscale.agent.bench_file import Bench, BenchNames, Order, SpoolPlace, UplinkTarget
from drainscale.procedure.gates import gates_of
from drainscale.procedure.moments import Group
from drainscale.quantities.job import Job, ProcedureLimits

NAMES = BenchNames("north", "bay-1")


def bench_of(job: Job, spool: Path, uplink: UplinkTarget | None = None) -> Bench:
    """Make the bench that a scenario's job was measured on.

    Args:
        job: What the kit is told in that scenario.
        spool: Folder of the spool.
        uplink: Where to send; ``None``: it keeps all and sends nothing.
    """
    return Bench(
        NAMES,
        job.scale,
        job.pan_sensor,
        job.container,
        SpoolPlace(str(spool)),
        job.supply_scale,
        uplink=uplink,
    )


def order_of(job: Job) -> Order:
    """Make the order for the scenario's vehicle and fluid."""
    return Order(job.procedure, job.fluid)


def answered_on_the_board(limits: ProcedureLimits) -> tuple[str, ...]:
    """List the gates of before the drain, answered as somebody does who looked."""
    return tuple(
        f"{gate.id}={gate.answers[0].key}"
        for gate in gates_of(limits)
        if gate.group is Group.BEFORE_DRAIN
    )
