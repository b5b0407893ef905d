"""The kit's measuring core, as the demo looks at it."""

from collections.abc import Sequence

from drainscale.core import Event, Live, Service
from drainscale.procedure.cue_facts import Cue
from drainscale.procedure.cue_rules import REASONS
from drainscale.procedure.gates import GATE_BY_ID
from drainscale.quantities.job import Job
from drainscale.quantities.samples import Sample
from drainscale_sim.demo.snapshot import Snapshot, Told


class Core:
    """One service in the measuring core."""

    def __init__(self, job: Job) -> None:
        self._service = Service(job)

    def feed(self, sample: Sample) -> Sequence[Told]:
        """Take one sample; return the events that it brings."""
        return [_told(event) for event in self._service.feed(sample)]

    def snapshot(self, t: float) -> Snapshot:
        """Return the figures at ``t``, not before the last sample."""
        return snapshot_of(self._service.live(t))

    def result(self) -> dict[str, object]:
        """Return what the service answers, as ``drainscale replay`` writes it."""
        return self._service.finish().to_dict()


def _told(event: Event) -> Told:
    return Told(event.t, event.event, str(event.step), event.sensor)


def snapshot_of(live: Live) -> Snapshot:
    """Pick what the demo shows."""
    return Snapshot(
        t=live.t,
        step=str(live.step),
        cue=str(live.cue.name),
        why=_why(live.cue),
        drained_L=live.drained_20C_L,
        U_drained_L=live.U_drained_20C_L,
        added_L=live.added_20C_L,
        U_added_L=live.U_added_20C_L,
        target_L=live.target_20C_L,
        spilled_mL=live.spilled_mL,
        flow_mL_per_min=live.flow_mL_per_min,
        still_to_come_mL=live.still_to_come_mL,
        fluid_C=live.fluid_C,
        U_fluid_K=live.U_fluid_C,
        pan_C=live.pan_C,
        opens_s=live.opens_s,
        opens_90=live.opens_90,
        closes_s=live.closes_s,
        finishes_s=live.finishes_s,
        p_finish_in_window=live.p_finish_in_window,
        faults=live.faults,
    )


def _why(cue: Cue) -> str:
    """Return the sentence of a cue's reason: a rule's, or that of the gate that holds it back."""
    gate = GATE_BY_ID.get(cue.reason)
    return REASONS[cue.reason] if gate is None else gate.ask
