"""From litres to bottles, and how much of the fluid is new afterwards. Pure."""

from math import ceil

_SLACK = 1e-9  # 3.0 L out of 0.1 L bottles is 30 of them, whatever the floats say


def bottles_to_buy(volume_L: float, bottle_L: float) -> int:
    """Count the bottles that hold at least a volume.

    Raises:
        ValueError: A volume below 0, or a bottle of 0 or less.

    Example:
        >>> bottles_to_buy(5.2, 1.0)
        6
    """
    if volume_L < 0.0 or bottle_L <= 0.0:
        raise ValueError(f"{volume_L} L in bottles of {bottle_L} L")
    return ceil(volume_L / bottle_L - _SLACK)


def share_of_new(drained_L: float, total_L: float, times: int = 1) -> float:
    """Tell the share of new fluid after that many drain-and-fills of the same size.

    Each takes out the same share of what is in, old and new alike, so 1 - (1 - d/V)^n of the
    fluid is new. That holds where the fluid mixes well between two of them, as it does when the
    vehicle is driven; the rest sits in the converter and the cooler until then.

    Args:
        drained_L: What one of them takes out.
        total_L: What the whole unit holds.
        times: How many.

    Raises:
        ValueError: A total of 0 or less, more drained than that, or fewer than 0 times.

    Source:
        Dilution of a well-mixed volume (elementary); that a unit mixes well: common practice, no
        source.

    Example:
        >>> round(share_of_new(4.0, 8.0, times=3), 3)
        0.875
    """
    if total_L <= 0.0 or not 0.0 <= drained_L <= total_L or times < 0:
        raise ValueError(f"{times} times {drained_L} L of {total_L} L")
    return 1.0 - (1.0 - drained_L / total_L) ** times
