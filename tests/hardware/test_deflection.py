"""How plates bend: formulas and elements against the handbooks; then what the platforms need."""

import math

import msgspec
import numpy as np
import pytest

from mechanical.bending import RingPlate, cantilever_deflection, plate_stiffness_Nmm
from mechanical.params import PLATFORMS, STANDARD_GRAVITY, read_params
from mechanical.plate_elements import ElementPlate
from mechanical.stops import Placed, PlatformBending, check_stops, top_ring

SIDE, LOAD_N = 300.0, 100.0
# Timoshenko, Strength of Materials II, and Theory of Plates and Shells, article 17, table of plates
# with a hole (from memory): clamped inside, loaded along the free outer edge, Poisson's ratio 0.3;
# a/b, k of the stress k P / h^2, k1 of the deflection k1 P a^2 / (E h^3)
RING_TABLE = [
    (1.25, 0.227, 0.00510),
    (1.5, 0.428, 0.0249),
    (2.0, 0.753, 0.0877),
    (3.0, 1.205, 0.209),
    (4.0, 1.514, 0.293),
    (5.0, 1.745, 0.350),
]


@pytest.mark.parametrize(("ratio", "k", "k1"), RING_TABLE)
def test_ring_plate_has_the_coefficients_of_the_handbook(ratio: float, k: float, k1: float) -> None:
    plate = RingPlate(100.0 / ratio, 100.0, 1.0, 1.0, 0.3)
    assert plate.stress_MPa(1.0) == pytest.approx(k, rel=0.003)
    assert plate.deflection(1.0) / 100.0**2 == pytest.approx(k1, rel=0.003)


def elements(poisson: float = 0.3) -> ElementPlate:
    return ElementPlate(SIDE, 5.0, 70e3, poisson, 16)


def rim(plate: ElementPlate) -> list[int]:
    half = SIDE / 2.0
    on_rim = [np.isclose(np.abs(plate.place(n)), half).any() for n in range((plate.n + 1) ** 2)]
    return [n for n, is_on in enumerate(on_rim) if is_on]


# Timoshenko and Woinowsky-Krieger, tables 8, 35 and the concentrated loads (from memory):
# deflection in the middle of a square plate in q a^4 / D or P a^2 / D
SQUARES = [
    ("uniform", "supported", 0.00406),
    ("middle", "supported", 0.01160),
    ("uniform", "clamped", 0.00126),
    ("middle", "clamped", 0.00560),
]


@pytest.mark.parametrize(("load", "edge", "coefficient"), SQUARES)
def test_elements_have_the_coefficients_of_the_handbook(
    load: str, edge: str, coefficient: float
) -> None:
    plate = elements()
    freedoms = 1 if edge == "supported" else 3
    held = [3 * node + k for node in rim(plate) for k in range(freedoms)]
    middle = plate.nearest(0.0, 0.0)
    inside = sorted(set(range((plate.n + 1) ** 2)) - set(rim(plate)))
    nodes = [middle] if load == "middle" else inside
    total = LOAD_N * (1.0 if load == "middle" else len(inside) / plate.n**2)
    moved = plate.solve(plate.load(nodes, total), held)
    unit = LOAD_N * SIDE**2 / plate_stiffness_Nmm(70e3, 5.0, 0.3)
    assert moved[3 * middle] / unit == pytest.approx(coefficient, rel=0.02)


def test_elements_without_poisson_bend_as_a_beam() -> None:
    plate = elements(poisson=0.0)
    half = SIDE / 2.0
    wall = plate.within((-half, -half), (-half, half))
    edge = plate.within((half, half), (-half, half))
    held = [3 * node + k for node in wall for k in range(3)]
    forces = plate.load(edge, LOAD_N * plate.n / (plate.n + 1))
    for corner in (edge[0], edge[-1]):  # the outer nodes stand for half as much edge
        forces[3 * corner] /= 2.0
    forces *= LOAD_N / forces.sum()
    expected = cantilever_deflection(LOAD_N, SIDE, 70e3 * SIDE * 5.0**3 / 12.0)
    assert plate.solve(forces, held)[3 * edge[8]] == pytest.approx(expected, rel=0.005)


def test_ring_plate_under_a_moment_agrees_with_elements() -> None:
    plate = ElementPlate(200.0, 5.0, 70e3, 0.33, 20)
    half, moment = 30.0, 5000.0
    held = [3 * node + k for node in plate.within((-half, half), (-half, half)) for k in range(3)]
    ring = plate.ring((0.0, 0.0), 90.0)
    x = np.array([plate.place(node)[0] for node in ring])
    forces = plate.load(ring, 0.0)
    forces[[3 * node for node in ring]] = moment * x / (x @ x)
    found = plate.solve(forces, held)[3 * plate.nearest(90.0, 0.0)]
    # the square clamp lies between the circles inside and around it
    stiff, soft = (RingPlate(b, 90.0, 5.0, 70e3, 0.33) for b in (half * math.sqrt(2.0), half))
    assert stiff.moment_deflection(moment) < found < soft.moment_deflection(moment)


def test_top_plates_formula_agrees_with_elements() -> None:
    params = read_params()
    platform, cell = params.platform["drain"], params.cell["drain"]
    plate = ElementPlate(platform.top, platform.plate, 70e3, 0.33)
    half, mount = params.fit.spacer_length / 2.0, -cell.mount
    patch = plate.within((mount - half, mount + half), (-cell.width / 2.0, cell.width / 2.0))
    held = [3 * node + k for node in patch for k in range(3)]
    foot = plate.ring((0.0, 0.0), platform.container / 2.0)
    found = plate.solve(plate.load(foot, cell.capacity_kg * STANDARD_GRAVITY), held)
    at = plate.nearest(mount + platform.container / 2.0, 0.0)
    # one spreads the load around the mount, the other around the middle
    assert check_stops("drain").top_deflection == pytest.approx(found[3 * at], rel=0.25)


@pytest.mark.parametrize("name", PLATFORMS)
def test_stops_touch_above_the_capacity_and_before_the_cells_safe_load(name: str) -> None:
    check = check_stops(name)
    cell = read_params().cell[name]
    assert cell.capacity_kg < check.touches_kg < check.touches_late_kg < 0.95 * check.safe_kg


@pytest.mark.parametrize("name", PLATFORMS)
def test_stops_stay_clear_in_use(name: str) -> None:
    clear = check_stops(name).clear
    assert len(clear) == 3
    assert min(clear.values()) > 0.0


@pytest.mark.parametrize("name", PLATFORMS)
def test_plates_are_far_from_yielding_where_the_cell_is_at_its_safe_load(name: str) -> None:
    check = check_stops(name)
    assert check.top_stress_MPa < check.yield_MPa / 3.0


def test_thinner_plates_would_let_the_stops_touch_in_use() -> None:
    params = read_params()
    thin = msgspec.structs.replace(params.platform["drain"], plate=6.0)
    thinner = msgspec.structs.replace(params, platform={**params.platform, "drain": thin})
    load = Placed(12.0, (35.0, 35.0), 100.0)
    assert max(PlatformBending(thinner, "drain").closes(load).values()) > thin.stop_gap


def test_a_load_over_the_mount_bends_no_more_than_the_cell_does() -> None:
    params = read_params()
    cell = params.cell["drain"]
    closes = PlatformBending(params, "drain").closes(Placed(10.0, (-cell.mount, 0.0), 20.0))
    assert max(closes.values()) == pytest.approx(
        10.0 / cell.capacity_kg * cell.deflection, abs=0.08
    )


def test_the_rings_clamp_is_inside_the_spacer() -> None:
    params = read_params()
    ring = top_ring(params, "drain")
    assert ring.inner <= min(params.fit.spacer_length, params.cell["drain"].width) / 2.0
