# SPDX-License-Identifier: Apache-2.0
"""Every dimension of the mechanics: ``hardware/cad/params.toml``, typed; mm unless named."""

import math
from collections.abc import Iterator
from functools import cache

import msgspec

from products import HARDWARE, HardwareError

PARAMS = HARDWARE / "cad" / "params.toml"
STANDARD_GRAVITY = 9.80665  # m/s2, CGPM 1901: exact
PLATFORMS = ("drain", "supply")


class _Table(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A table of the file: no key more, no key less."""


class Cell(_Table, frozen=True, forbid_unknown_fields=True):
    """A single-point load cell."""

    capacity_kg: float
    length: float
    width: float
    height: float
    thread: float
    end_distance: float
    hole_pitch: float
    platform: float
    deflection: float
    safe_load: float
    pitch_rad_per_Nm: float
    roll_rad_per_Nm: float
    tightening_Nm: float

    @property
    def mount(self) -> float:
        """From the middle of the cell to the middle of the holes of one end."""
        return self.length / 2.0 - self.end_distance - self.hole_pitch / 2.0


class Platform(_Table, frozen=True, forbid_unknown_fields=True):
    """Two plates with a load cell between them."""

    title: str
    top: float
    plate: float
    working_kg: float
    container: float
    stop: float
    stop_gap: float
    feet: tuple[tuple[float, float], ...]
    cable_clamp: tuple[float, float]


class Plate(_Table, frozen=True, forbid_unknown_fields=True):
    """What both plates of a platform are cut from."""

    corner_radius: float
    youngs_GPa: float
    poisson: float
    yield_MPa: float
    density_kg_per_m3: float


class Fit(_Table, frozen=True, forbid_unknown_fields=True):
    """Holes, screws and what lies between plate and cell."""

    clear_M3: float
    clear_M4: float
    clear_M6: float
    tap_M3: float
    tap_M6: float
    tap_M8: float
    countersink_M4: float
    countersink_M6: float
    stop_gap_plus: float
    nut_M6_corners: float
    foot_height: float
    foot: float
    spacer: float
    spacer_length: float


class Lip(_Table, frozen=True, forbid_unknown_fields=True):
    """The drip lip."""

    height: float
    wall: float
    clearance: float
    flange: float
    flange_thickness: float
    screw_inset: float
    joint: float


class PanButton(_Table, frozen=True, forbid_unknown_fields=True):
    """The button with the junction, and the spring behind it."""

    diameter: float
    length: float
    proud: float
    spring_free: float
    spring_solid: float

    def has_room(self, bore: float, depth: float) -> bool:
        """Whether it moves in a bore: the spring pressed, but not flat even with the button in."""
        spring = depth - self.length + self.proud
        return self.diameter < bore and self.spring_solid + self.proud <= spring < self.spring_free


class PanPad(_Table, frozen=True, forbid_unknown_fields=True):
    """The pad that holds the thermocouple by magnets or a strap."""

    length: float
    width: float
    height: float
    magnet: float
    magnet_depth: float
    magnet_pitch: float
    strap_slot: tuple[float, float]
    strap_pitch: float
    button: float
    button_depth: float
    lead: float


class PanClamp(_Table, frozen=True, forbid_unknown_fields=True):
    """The clamp that holds it on an edge of the pan."""

    jaw: float
    throat: float
    wall: float
    head: float
    width: float
    screw_tap: float
    button: float
    button_depth: float
    lead: float


class SignalHead(_Table, frozen=True, forbid_unknown_fields=True):
    """Four lamps above each other and the sounder."""

    width: float
    depth: float
    height: float
    wall: float
    lamps: tuple[str, ...]
    lamp_hole: float
    lamp_pitch: float
    first_lamp: float
    dot: float
    dot_depth: float
    sounder_from_bottom: float
    sounder: float
    grill_hole: float
    grill_circle: float
    gland: float
    post: float
    lid: float
    foot_pitch: float


class Opening(_Table, frozen=True, forbid_unknown_fields=True):
    """A hole in the box's wall for a socket or gland."""

    ref: str
    diameter: float
    what: str


class ControlBox(_Table, frozen=True, forbid_unknown_fields=True):
    """A bought enclosure, what is drilled into it and the plate inside."""

    inside: tuple[float, float, float]
    wall: float
    tray: tuple[float, float, float]
    tray_hole_inset: float
    carrier: tuple[float, float]
    carrier_at: tuple[float, float]
    carrier_hole_inset: float
    computer: tuple[float, float]
    computer_at: tuple[float, float]
    computer_holes: tuple[float, float]
    computer_zero_row: float
    computer_hole: float
    tie_slot: tuple[float, float]
    tie_columns: tuple[float, ...]
    tie_rows: tuple[float, ...]
    wall_inset: float
    openings: tuple[Opening, ...]


class Made(_Table, frozen=True, forbid_unknown_fields=True):
    """How many of a made part a kit needs, and how many more with a supply platform."""

    base: int
    option: int
    needed_for: str


class Bought(Made, frozen=True, forbid_unknown_fields=True):
    """A bought part of the mechanics: what it is, and what it has to keep."""

    what: str
    figures: str


class Params(_Table, frozen=True, forbid_unknown_fields=True):
    """The whole file."""

    revision: str
    status: str
    cell: dict[str, Cell]
    platform: dict[str, Platform]
    plate: Plate
    fit: Fit
    lip: Lip
    pan_button: PanButton
    pan_pad: PanPad
    pan_clamp: PanClamp
    signal_head: SignalHead
    control_box: ControlBox
    made: dict[str, Made]
    bought: dict[str, Bought]

    def base_side(self, name: str) -> float:
        """Side of a base plate: the lip hangs outside it, clear of it all round."""
        return self.platform[name].top - 2.0 * (self.lip.wall + self.lip.clearance)

    def plate_gap(self, name: str) -> float:
        """Between the two plates: the cell and a spacer on either side."""
        return self.cell[name].height + 2.0 * self.fit.spacer


@cache
def read_params() -> Params:
    """Read and check the file.

    Raises:
        HardwareError: A key unknown or missing, or dimensions that contradict each other.
    """
    try:
        params = msgspec.toml.decode(PARAMS.read_bytes(), type=Params)
    except msgspec.ValidationError as error:
        raise HardwareError(f"{PARAMS.name}: {error}") from error
    found = contradictions(params)
    if found:
        raise HardwareError("\n".join(f"{PARAMS.name}: {line}" for line in found))
    return params


def contradictions(params: Params) -> list[str]:
    """Tell which dimensions cannot all be: parts that meet, plates too large for their cell."""
    found = [line for name in PLATFORMS for line in _of_platform(params, name)]
    found += _of_button(params)
    head = params.signal_head
    lowest = head.first_lamp + head.lamp_pitch * (len(head.lamps) - 1) + head.lamp_hole / 2.0
    if lowest > head.height - head.sounder_from_bottom - head.sounder / 2.0:
        found.append("[signal_head] the lowest lamp meets the sounder")
    box = params.control_box
    pitch = (box.inside[0] - 2.0 * box.wall_inset) / (len(box.openings) - 1)
    if pitch - max(opening.diameter for opening in box.openings) < 10.0:
        found.append("[control_box] openings are less than 10 mm apart")
    return found


def _of_platform(params: Params, name: str) -> Iterator[str]:
    platform, cell = params.platform[name], params.cell[name]
    if platform.top > cell.platform:
        yield f"[platform.{name}] is larger than its cell is rated for"
    if platform.stop + params.fit.nut_M6_corners / 2.0 >= platform.top / 2.0 - params.lip.flange:
        yield f"[platform.{name}] the stops' nuts meet the lip"
    if params.lip.height >= params.plate_gap(name):
        yield f"[platform.{name}] the lip reaches below the base"
    for foot in platform.feet:
        corner = (math.copysign(platform.stop, foot[0]), math.copysign(platform.stop, foot[1]))
        if math.dist(foot, corner) < 15.0:
            yield f"[platform.{name}] a foot meets a stop"


def _of_button(params: Params) -> Iterator[str]:
    for name, bore, depth, thick in (
        ("pan_pad", params.pan_pad.button, params.pan_pad.button_depth, params.pan_pad.height),
        (
            "pan_clamp",
            params.pan_clamp.button,
            params.pan_clamp.button_depth,
            params.pan_clamp.head,
        ),
    ):
        if not params.pan_button.has_room(bore, depth) or depth >= thick - params.pan_pad.lead:
            yield f"[{name}] the button and its spring have no room"
