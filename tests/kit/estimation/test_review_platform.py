"""A load that is put there softly while the platform shakes."""

import math

from drainscale.estimation.blocks import Block
from drainscale.estimation.platform import Placed, Platform


def reading_kg(t: float) -> float:
    """Shaken while empty and while 0.4 kg come on within a minute; then all is calm."""
    load_kg = 0.4 * min(max((t - 30.0) / 60.0, 0.0), 1.0)
    return load_kg + (0.012 * math.cos(math.pi * 10.0 * t + 0.3) if 10.0 < t < 92.0 else 0.0)


def test_a_load_that_comes_softly_while_it_shakes_is_placed_when_it_calms() -> None:
    platform = Platform(0.040, 0.150)
    told = []
    for i in range(1100):
        told += platform.add(Block(0.1 * i, reading_kg(0.1 * i)))
    placed = [one for one in told if isinstance(one, Placed)]
    assert len(placed) == 1
    assert 30.0 < placed[0].t < 95.0
    assert platform.is_loaded
