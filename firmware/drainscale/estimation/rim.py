"""What a volume above a rim gives: the law of a standpipe's rim and of a check hole's edge.

Fluid of volume ``v`` above the rim, spread over the sump's free surface A, flows off as
``c v^m`` until the pipe below the rim limits the flow to ``p (1 + v/vh)^n``, the head being
the pipe's own length plus what stands above it. The lesser of the two rules, and near where
they meet they round each other off:

    q(v) = ((c v^m)^-s + (p (1 + v/vh)^n)^-s)^-1/s,      s = 4

s = 2 would add up two resistances to turbulent flow in one stream. But a rim takes no head
from a pipe that runs full, nor a pipe from a rim that it does not fill: hydraulics takes the
lesser, s without limit. Ripples on the surface and the head that is lost at the pipe's mouth
soften that. Too soft a meeting makes the spill seem to fall sooner, and its end too near.

``c`` is large and ``vh`` small where the free surface is small: c ~ A^-m, vh = A times the
pipe's length; so what the flow does while the pipe limits it tells of the rim, too.

Sources: weir exponent 3/2, e.g. King and Brater, Handbook of Hydraulics (sharp crest, wide
against the head). For a round hole in a wall 2: Torricelli's speed over the chord
2 sqrt(d z), integral of 2 sqrt(d z) sqrt(2 g (h - z)) from 0 to h = (pi/4) sqrt(2 g d) h^2,
h small against d. A short pipe under head H + h, q ~ (H + h)^n with n from 1/2 (Torricelli)
to 1 (Hagen-Poiseuille), oil at working viscosity nearer to the latter. The lesser of weir
and orifice for a riser pipe, and s: common practice, no source.
"""

from dataclasses import dataclass
from math import exp, log

PIPE_POWER = 0.7
SHARPNESS = 4.0
LN_VH_MEAN = log(1500.0)  # mL: a pipe of 30 mm under a free surface of 500 cm2, the mean of c


@dataclass(frozen=True, slots=True)
class Rim:
    """An opening whose edge sets the level.

    Attributes:
        power: Of the head, while the edge alone limits the flow.
        ln_c_mean: ln of c in mL/s per mL^power, of a usual unit.
    """

    power: float
    ln_c_mean: float


# 8 to 14 mm bore over 150 to 1300 cm2 of free surface
STANDPIPE = Rim(1.5, -5.4)
# 10 to 16 mm bore over 250 to 500 cm2: by the integral above, times a discharge coefficient of 0.6
CHECK_HOLE = Rim(2.0, -8.5)


def flow_and_slopes(
    rim: Rim, ln_v: float, ln_c: float, ln_p: float
) -> tuple[float, float, float, float]:
    """The flow off a rim through a pipe, mL/s, and its derivatives by ln v, ln c and ln p.

    Args:
        rim: The kind of opening.
        ln_v: ln of the volume above the rim in mL.
        ln_c: ln of the rim's factor.
        ln_p: ln of the pipe's flow in mL/s with nothing above the rim.
    """
    x = _head_share(rim, ln_v, ln_c)
    ln_weir = min(ln_c + rim.power * ln_v, 30.0)
    ln_pipe = ln_p + PIPE_POWER * log(1.0 + x)
    gap = SHARPNESS * (ln_weir - ln_pipe)
    other = exp(-min(abs(gap), 60.0))  # the greater limit's part beside the lesser's 1
    q = exp(min(ln_weir, ln_pipe)) * (1.0 + other) ** (-1.0 / SHARPNESS)
    by_pipe = (other if gap < 0.0 else 1.0) / (1.0 + other)  # share that the pipe has in it
    by_weir = 1.0 - by_pipe
    by_head = by_pipe * PIPE_POWER * x / (1.0 + x)
    by_v = q * (by_weir * rim.power + by_head)
    return q, by_v, q * (by_weir + by_head / rim.power), q * by_pipe


def flow_off(rim: Rim, ln_v: float, ln_c: float, ln_p: float) -> float:
    """The flow alone, mL/s: asked for thousands of times to foresee one spill's end."""
    ln_weir = min(ln_c + rim.power * ln_v, 30.0)
    ln_pipe = ln_p + head_power(rim, ln_v, ln_c)
    other = exp(-min(SHARPNESS * abs(ln_weir - ln_pipe), 60.0))
    return exp(min(ln_weir, ln_pipe)) * float((1.0 + other) ** (-1.0 / SHARPNESS))


def pipe_for(rim: Rim, q_mL_per_s: float, ln_v: float, ln_c: float) -> float | None:
    """Logarithm of p of the pipe that gives just this flow; None where the rim gives less."""
    weir = exp(ln_c + rim.power * ln_v)
    if weir <= 1.02 * q_mL_per_s:
        return None
    left = 1.0 - (q_mL_per_s / weir) ** SHARPNESS
    return log(q_mL_per_s) - log(left) / SHARPNESS - head_power(rim, ln_v, ln_c)


def head_power(rim: Rim, ln_v: float, ln_c: float) -> float:
    """Logarithm of what the head above the rim makes of the pipe's flow."""
    return PIPE_POWER * log(1.0 + _head_share(rim, ln_v, ln_c))


def _head_share(rim: Rim, ln_v: float, ln_c: float) -> float:
    """Head above the rim against the pipe's own: v / vh."""
    ln_vh = LN_VH_MEAN - (ln_c - rim.ln_c_mean) / rim.power
    return exp(min(ln_v - ln_vh, 20.0))
