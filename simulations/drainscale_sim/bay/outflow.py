"""Laws of what runs out: over a rim, through a hole, down a wall, drop by drop. Pure functions.

All in SI units: m, m2, m3/s, m2/s.
"""

from math import pi, sqrt

GRAVITY_M_PER_S2 = 9.80665

# 2/3 of a discharge coefficient of 0.62, for a sharp crest without end contraction; handbook
# value 0.414 sqrt(2 g)
CREST = 0.414
SHARP_HOLE = 0.61


def over_crest_m3_per_s(crest_m: float, head_m: float) -> float:
    """Flow over a sharp crest, such as the round rim of a standpipe.

    Args:
        crest_m: Length of the crest; for a round rim pi times its diameter.
        head_m: Level above the crest; none runs at or below it.

    Source:
        Weir formula 0.414 sqrt(2 g) L h^1.5, as handbooks of hydraulics give it.
    """
    if head_m <= 0.0:
        return 0.0
    return CREST * sqrt(2.0 * GRAVITY_M_PER_S2) * crest_m * head_m * sqrt(head_m)


def tube_m3_per_s(
    bore_m: float, length_m: float, head_m: float, nu_m2_per_s: float, discharge: float = SHARP_HOLE
) -> float:
    """Flow through a hole or a short tube running full, viscous loss along its wall included.

    The head pays for the entrance with the speed, v²/(2 g C²), and for the wall,
    32 nu L v/(g d²): a quadratic in v. Without length it is the orifice C A sqrt(2 g h).

    Args:
        bore_m: Inner diameter.
        length_m: Length along which the wall holds back.
        head_m: Level above the outlet end.
        nu_m2_per_s: Kinematic viscosity.
        discharge: Discharge coefficient C of the entrance.

    Source:
        Torricelli with a coefficient; Hagen-Poiseuille for the wall.
    """
    if head_m <= 0.0:
        return 0.0
    entrance = 1.0 / (2.0 * GRAVITY_M_PER_S2 * discharge * discharge)
    wall = 32.0 * nu_m2_per_s * length_m / (GRAVITY_M_PER_S2 * bore_m * bore_m)
    speed = (sqrt(wall * wall + 4.0 * entrance * head_m) - wall) / (2.0 * entrance)
    return 0.25 * pi * bore_m * bore_m * speed


def down_pipe_m3_per_s(
    bore_m: float, length_m: float, head_m: float, nu_m2_per_s: float, discharge: float = SHARP_HOLE
) -> float:
    """Flow into a pipe that stands upright: its rim limits at low head, its bore at high head.

    A hole in the floor is a pipe as long as the floor is thick.
    """
    if head_m <= 0.0:
        return 0.0
    by_rim = over_crest_m3_per_s(pi * bore_m, head_m)
    by_bore = tube_m3_per_s(bore_m, length_m, head_m + length_m, nu_m2_per_s, discharge)
    return min(by_rim, by_bore)


def side_hole_m3_per_s(bore_m: float, head_m: float, discharge: float = SHARP_HOLE) -> float:
    """Flow out of a round hole in a side wall, head counted from its lower edge.

    Torricelli's speed integrated over the chord 2 sqrt(z (d - z)); the chord's series cut after
    its second term gives C sqrt(2 g d) (pi/4) h² (1 - h/(4 d)), good while the hole is not full.
    Above it is a full hole with the head at its middle.
    """
    if head_m <= 0.0:
        return 0.0
    low = min(head_m, bore_m)
    partly = discharge * sqrt(2.0 * GRAVITY_M_PER_S2 * bore_m) * 0.25 * pi * low * low
    partly *= 1.0 - low / (4.0 * bore_m)
    if head_m <= bore_m:
        return partly
    full = 0.25 * pi * bore_m * bore_m * discharge
    return max(partly, full * sqrt(2.0 * GRAVITY_M_PER_S2 * (head_m - 0.5 * bore_m)))


def film_hold_up_m3(width_m: float, height_m: float, nu_m2_per_s: float, since_s: float) -> float:
    """Volume of oil that still hangs on an upright wall, after its foot came free.

    The film is sqrt(nu z/(g t)) thick at depth z, which sums to (2/3) w sqrt(nu H³/(g t)).

    Source:
        Jeffreys, The draining of a vertical plate, 1930.
    """
    return 2.0 / 3.0 * width_m * sqrt(nu_m2_per_s * height_m**3 / (GRAVITY_M_PER_S2 * since_s))


def film_run_off_m3_per_s(hold_up_m3: float, spread_m3_s05: float) -> float:
    """Flow down the walls while they hold `hold_up_m3`.

    With V = K t^-1/2 the flow is K/2 t^-3/2 = V³/(2 K²): a law without a clock, so that walls
    may be wetted anew.

    Args:
        hold_up_m3: Oil on the walls.
        spread_m3_s05: K, m3 s^0.5: (2/3) w sqrt(nu H³/g).
    """
    if spread_m3_s05 <= 0.0:
        return 0.0
    return hold_up_m3**3 / (2.0 * spread_m3_s05 * spread_m3_s05)


def drop_mass_kg(
    tip_radius_m: float, tension_N_per_m: float = 0.03, hangs_on: float = 0.62
) -> float:
    """Mass of a drop that falls off a wetted tip.

    Source:
        Tate's law m g = 2 pi r sigma, times the share that falls off (Harkins and Brown 1919;
        0.6 to 0.7 for tips of 2 to 4 mm, from memory).
    """
    return 2.0 * pi * tip_radius_m * tension_N_per_m * hangs_on / GRAVITY_M_PER_S2
