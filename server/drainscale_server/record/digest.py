"""What the record needs of the samples of a job, taken in one pass: they may be a million. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from drainscale.errors import QuantityError
from drainscale.quantities.calibration import Calibration
from drainscale.quantities.job import Job, ScaleSettings
from drainscale.quantities.samples import (
    AddedByHand,
    PanFault,
    PanReading,
    Sample,
    ScaleCount,
)
from drainscale_server.record.answer import LARGEST
from drainscale_server.record.model import PanPoint
from drainscale_server.record.trend import Block, BlockMaker

PAN_EVERY_S = 5.0  # more would not show on paper


@dataclass(slots=True)
class Digest:
    """The samples of a job, thinned for the plots.

    Attributes:
        drain, supply: The scales' readings, by blocks.
        pan: Pan readings; None where the converter told a fault.
        typed_in_L: Litres that went in without being weighed; None: nobody typed any.
        samples_n: How many samples there are.
        end_s: Time of the last.
    """

    drain: list[Block] = field(default_factory=list)
    supply: list[Block] = field(default_factory=list)
    pan: list[PanPoint] = field(default_factory=list)
    typed_in_L: float | None = None
    samples_n: int = 0
    end_s: float | None = None


def digest(samples: Iterable[Sample], spec: Job | None) -> Digest:
    """Take what the record needs of the samples.

    Args:
        samples: In time order.
        spec: With the calibrations; without it no weight is known.
    """
    made = Digest()
    drain, supply = BlockMaker(), BlockMaker()
    scale = _calibration(spec.scale if spec else None)
    second = _calibration(spec.supply_scale if spec else None)
    for sample in samples:
        made.samples_n += 1
        made.end_s = sample.t
        match sample:
            case ScaleCount(t=t, count=count, is_supply=is_supply):
                calibration, maker = (second, supply) if is_supply else (scale, drain)
                if calibration is not None:
                    maker.add(t, calibration.indicated_kg(count))
            case PanReading(t=t, pan_C=pan_C):
                _pan(made.pan, t, pan_C)
            case PanFault(t=t):
                _pan(made.pan, t, None)
            case AddedByHand(volume_20C_L=volume_L):
                made.typed_in_L = (made.typed_in_L or 0.0) + volume_L
            case _:
                pass
    made.drain, made.supply = drain.blocks(), supply.blocks()
    return made


def _calibration(settings: ScaleSettings | None) -> Calibration | None:
    try:
        return None if settings is None else Calibration(settings)
    except QuantityError:  # a kit that tells such a thing weighs nothing that could be drawn
        return None


def _pan(points: list[PanPoint], t: float, pan_C: float | None) -> None:
    if pan_C is not None and abs(pan_C) > LARGEST:
        pan_C = None  # a broken kit's
    is_other = not points or (points[-1].pan_C is None) != (pan_C is None)
    if is_other or t - points[-1].t >= PAN_EVERY_S:
        points.append(PanPoint(t=t, pan_C=pan_C))
