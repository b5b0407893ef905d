"""The volumes of a record, in litres and US quarts. Pure."""

from drainscale.quantities.units import litres_to_quarts
from drainscale_server.record.answer import Answer, StageTold
from drainscale_server.record.model import Stage, Volume, Volumes

AT_20C = "at 20 °C"
AS_IT_RAN = "at the fluid's temperature"


def volume(value_L: float | None, U_L: float | None, basis: str = AT_20C) -> Volume:
    """Make a volume; without a value its uncertainty says nothing and is left out."""
    if value_L is None:
        U_L = None
    return Volume(
        value_L=value_L,
        U_L=U_L,
        value_qt=None if value_L is None else litres_to_quarts(value_L),
        U_qt=None if U_L is None else litres_to_quarts(U_L),
        basis=basis,
    )


def volumes_of(
    answer: Answer,
    allowance_L: float | None,
    total_capacity_L: float | None,
    typed_in_L: float | None,
) -> Volumes:
    """Form the volumes.

    The kit's uncertainty of what was drained and spilled belongs to the volume at the fluid's
    temperature. At 20 °C it is told in proportion: there the fluid's temperature has no part in
    it, so it is rather smaller.

    Args:
        answer: The kit's.
        allowance_L: Of the job.
        total_capacity_L: Of the unit, as typed in.
        typed_in_L: What went in unweighed.
    """
    drained, refill, spill, net = answer.drained, answer.refill, answer.spill, answer.net
    largest = max(drained.budget, key=lambda line: line.share, default=None)
    return Volumes(
        drained=volume(
            drained.volume_20C_L,
            _in_proportion(drained.U_volume_L, drained.volume_20C_L, drained.volume_L),
        ),
        drained_as_it_ran=volume(drained.volume_L, drained.U_volume_L, AS_IT_RAN),
        drained_mass_kg=drained.mass_kg,
        stages=[_stage(one) for one in drained.stages],
        added=volume(refill.added_volume_20C_L, refill.U_volume_L),
        added_mass_kg=refill.added_mass_kg,
        spilled=volume(
            spill.volume_20C_L, _in_proportion(spill.U_volume_L, spill.volume_20C_L, spill.volume_L)
        ),
        spilled_as_it_ran=volume(spill.volume_L, spill.U_volume_L, AS_IT_RAN),
        spilled_mass_kg=spill.mass_kg,
        net=volume(net.volume_20C_L, net.U_volume_L),
        allowance=volume(allowance_L, None),
        target=volume(refill.target_volume_20C_L, None),
        typed_in=volume(typed_in_L, None),
        new_share=_share(drained.volume_20C_L, total_capacity_L),
        largest_source=None if largest is None else largest.source,
        largest_share=None if largest is None else largest.share,
    )


def _in_proportion(U_L: float | None, value_L: float | None, other_L: float | None) -> float | None:
    if U_L is None or value_L is None or not other_L:
        return U_L
    return U_L * value_L / other_L


def _stage(told: StageTold) -> Stage:
    return Stage(
        step=told.step,
        mass_kg=told.mass_kg,
        as_it_ran=volume(told.volume_L, None, AS_IT_RAN),
        started_s=told.started_s,
        dripped_s=told.dripped_s,
    )


def _share(drained_L: float | None, total_L: float | None) -> float | None:
    if drained_L is None or total_L is None or not 0.0 <= drained_L <= total_L or total_L == 0.0:
        return None
    return drained_L / total_L
