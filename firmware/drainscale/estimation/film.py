"""How much more stands above a standpipe's rim than the weir's law makes of a thin spill.

What runs over a rim at some 60 mL/min is a film half a millimetre deep, and half of its head goes
into friction (Reynolds number about 1): the flow then goes with a higher power of the head than
the weir's 3/2. Where it goes as v^n, the volume is v = n q / (dq/dv), and how the flow falls tells
q and dq/dv: what was inferred with 3/2 is too little by n over 3/2.

Sources: sharp crest 0.414 sqrt(2 g) L h^3/2, e.g. King and Brater, Handbook of Hydraulics; a film
that falls down a wall is (3 nu q / (g L))^1/3 thick: Nusselt, Z. VDI 60 (1916) 541. That both
heads add is our choice.
"""

from math import pi, sqrt

G_M_PER_S2 = 9.80665
CREST = 0.414
WEIR_POWER, FILM_POWER = 1.5, 3.0
# bore of a standpipe (common practice, no source); the power goes with its cube root at most
BORE_M = 0.010
TYPICAL_MM2_PER_S = 25.0  # a transmission fluid at 40 °C (common practice, no source)


def rim_power(flow_mL_per_s: float, viscosity_mm2_per_s: float | None) -> float:
    """Power of the volume above the rim that a flow goes with: 3/2 as a weir, 3 as a film.

    Args:
        flow_mL_per_s: The flow.
        viscosity_mm2_per_s: Kinematic; ``None``: of a usual fluid at 40 °C.
    """
    if flow_mL_per_s <= 0.0:
        return FILM_POWER
    nu = 1e-6 * (TYPICAL_MM2_PER_S if viscosity_mm2_per_s is None else viscosity_mm2_per_s)
    per_m = 1e-6 * flow_mL_per_s / (pi * BORE_M)
    weir_m: float = (per_m / (CREST * sqrt(2.0 * G_M_PER_S2))) ** (1.0 / WEIR_POWER)
    film_m: float = (3.0 * nu * per_m / G_M_PER_S2) ** (1.0 / FILM_POWER)
    return (weir_m + film_m) / (weir_m / WEIR_POWER + film_m / FILM_POWER)


def film_factor(flow_mL_per_s: float, viscosity_mm2_per_s: float | None) -> float:
    """What stands above the rim over what a law of the power 3/2 makes of the spill."""
    return rim_power(flow_mL_per_s, viscosity_mm2_per_s) / WEIR_POWER
