"""Parts, cutting files and drawings: they fit each other, and say what they have to."""

import csv
import io
import math
import re
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path

import ezdxf.filemanagement
import msgspec
import numpy as np
import pytest
from ezdxf.document import Drawing

from drainscale.pins import pins
from mechanical.assembly import PlatformParts, platform_parts
from mechanical.legible import struck_texts, tight_texts
from mechanical.params import PLATFORMS, Params, contradictions, read_params
from mechanical.parts_list import COLUMNS, parts_csv, slug
from mechanical.plan import FlatPart, flat_parts, stop_places
from mechanical.plate_sheets import symmetric
from mechanical.printed import printed_parts, read_stl
from mechanical.sheet import Sheet
from mechanical.solids import flat_solid
from products import HARDWARE, ROOT

CAD = HARDWARE / "cad"
STL = sorted((CAD / "out").glob("*.stl"))
DRAWINGS = sorted((CAD / "drawings").glob("*.svg"))
FIGURES = sorted((HARDWARE / "docs/figures").glob("*.svg"))
FLAT = {part.ref: part for part in flat_parts(read_params())}


@cache
def put_together(name: str) -> PlatformParts:
    return platform_parts(read_params(), name)


def cutting_file(ref: str) -> Drawing:
    part = FLAT[ref]
    return ezdxf.filemanagement.readfile(CAD / "out" / f"{slug(ref, part.name)}.dxf")


# --- printed parts --------------------------------------------------------------------------------


@pytest.mark.parametrize("path", STL, ids=lambda path: path.stem)
def test_printed_part_is_one_watertight_body_and_small(path: Path) -> None:
    mesh = read_stl(path.read_bytes())
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.body_count == 1
    assert 1000.0 < mesh.volume < 0.9 * float(np.prod(mesh.extents))
    assert path.stat().st_size < 200_000


def test_every_printed_part_has_its_file_and_fits_a_usual_printer() -> None:
    parts = list(printed_parts(read_params()))
    assert [slug(part.ref, part.name) for part in parts] == sorted(
        (path.stem for path in STL), key=lambda stem: int(stem.split("-")[0][1:])
    )
    assert all(max(read_stl(path.read_bytes()).extents) <= 210.0 for path in STL)


def test_what_touches_the_pan_is_not_printed_in_what_softens_there() -> None:
    materials = {part.ref: part.material for part in printed_parts(read_params())}
    assert {ref for ref, material in materials.items() if "150 °C" in material} == {"P8", "P9"}


# --- cutting files --------------------------------------------------------------------------------


@pytest.mark.parametrize("ref", FLAT)
def test_cutting_file_is_in_millimetres_with_a_true_circle_for_each_hole(ref: str) -> None:
    document, part = cutting_file(ref), FLAT[ref]
    assert document.header["$INSUNITS"] == 4  # mm, by the reference of the format
    assert not document.audit().errors
    circles = document.modelspace().query("CIRCLE")
    found = {
        (round(c.dxf.center.x, 3), round(c.dxf.center.y, 3), 2 * c.dxf.radius) for c in circles
    }
    assert {(round(x, 3), round(y, 3), h.diameter) for h in part.holes for x, y in [h.at]} <= found
    assert not document.modelspace().query("LINE SPLINE ARC")


@pytest.mark.parametrize("ref", FLAT)
def test_cutting_files_outline_has_the_parts_size_and_round_corners(ref: str) -> None:
    part = FLAT[ref]
    outline = cutting_file(ref).modelspace().query("LWPOLYLINE")[0]
    points = outline.get_points("xyb")
    for axis in (0, 1):
        values = [point[axis] for point in points]
        assert max(values) - min(values) == pytest.approx(part.size[axis])
    arcs = [point for point in points if point[2]]
    assert len(arcs) == (4 if part.corner_radius else 0)
    assert all(point[2] == pytest.approx(math.tan(math.pi / 8.0)) for point in arcs)


@pytest.mark.parametrize("ref", FLAT)
def test_a_plates_solid_is_its_outline_without_its_holes(ref: str) -> None:
    part = FLAT[ref]
    (length, width), r = part.size, part.corner_radius
    area = length * width - (4.0 - math.pi) * r * r
    area -= sum(math.pi / 4.0 * hole.diameter**2 for hole in part.holes)
    area -= sum(slot.size[0] * slot.size[1] for slot in part.slots)
    cones = sum(_countersink_mm3(hole.diameter, hole.countersink) for hole in part.holes)
    assert flat_solid(part).volume() == pytest.approx(area * part.thickness - cones, rel=2e-3)


def _countersink_mm3(hole: float, head: float) -> float:
    """What a 90 degree countersink takes beyond the hole: a frustum less a cylinder."""
    if not head:
        return 0.0
    r, s = hole / 2.0, head / 2.0
    deep = s - r
    return math.pi * deep * ((r * r + r * s + s * s) / 3.0 - r * r)


# --- platforms ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", PLATFORMS)
def test_plates_and_spacers_have_the_load_cells_hole_pattern(name: str) -> None:
    cell = read_params().cell[name]
    base, top = (FLAT[ref] for ref in (("P1", "P2") if name == "drain" else ("P3", "P4")))
    from_end = [cell.end_distance, cell.end_distance + cell.hole_pitch]
    pattern = sorted(cell.length / 2.0 - distance for distance in from_end)
    assert sorted(_countersunk_x(base)) == pattern
    assert sorted(-x for x in _countersunk_x(top)) == pattern
    assert np.ptp([hole.at[0] for hole in FLAT["P5"].holes]) == cell.hole_pitch
    assert all(hole.diameter > cell.thread for hole in FLAT["P5"].holes)


def _countersunk_x(part: FlatPart) -> list[float]:
    return [hole.at[0] for hole in part.holes if "end of the cell" in hole.purpose]


@pytest.mark.parametrize("name", PLATFORMS)
def test_stops_leave_the_stated_gap_under_the_top_plate(name: str) -> None:
    parts, gap = put_together(name), read_params().platform[name].stop_gap
    assert parts.stops.min_gap(parts.top, 5.0) == pytest.approx(gap, abs=1e-6)


@pytest.mark.parametrize("name", PLATFORMS)
def test_lip_hangs_clear_of_all_that_does_not_move_with_it(name: str) -> None:
    parts, lip = put_together(name), read_params().lip
    for corner in parts.lips:
        assert corner.min_gap(parts.base, 20.0) >= lip.clearance - 1e-6
        assert corner.min_gap(parts.stops, 20.0) >= lip.clearance
        assert corner.min_gap(parts.cell, 20.0) >= lip.clearance
        assert corner.min_gap(parts.top, 1.0) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("name", PLATFORMS)
def test_the_beam_clears_both_plates_by_its_spacers(name: str) -> None:
    parts, spacer = put_together(name), read_params().fit.spacer
    assert parts.cell.min_gap(parts.base, 10.0) == pytest.approx(spacer)
    assert parts.cell.min_gap(parts.top, 10.0) == pytest.approx(spacer)


@pytest.mark.parametrize("name", PLATFORMS)
def test_no_part_of_a_platform_stands_in_another(name: str) -> None:
    parts = put_together(name)
    solids = {
        "base": parts.base, "cell": parts.cell, "top": parts.top, "low spacer": parts.spacers[0],
        "high spacer": parts.spacers[1], **{f"lip {n}": lip for n, lip in enumerate(parts.lips)},
    }  # fmt: skip
    for (one, a), (other, b) in combinations(solids.items(), 2):
        assert (a ^ b).volume() < 1e-3, f"{one} in {other}"


@pytest.mark.parametrize("name", PLATFORMS)
def test_oil_that_runs_over_the_edge_falls_outside_the_base(name: str) -> None:
    params = read_params()
    assert put_together(name).lips[0].bounding_box()[3] == params.platform[name].top / 2.0
    assert params.platform[name].top / 2.0 > params.base_side(name) / 2.0 + params.lip.clearance


def changed(table: str, key: str, **values: object) -> Params:
    params = read_params()
    tables = getattr(params, table)
    if isinstance(tables, dict):
        new = {**tables, key: msgspec.structs.replace(tables[key], **values)}
    else:
        new = msgspec.structs.replace(tables, **values)
    return msgspec.structs.replace(params, **{table: new})


@pytest.mark.parametrize(
    ("params", "says"),
    [
        (changed("platform", "drain", top=320.0), "larger than its cell is rated for"),
        (changed("platform", "drain", stop=135.0), "the stops' nuts meet the lip"),
        (changed("platform", "supply", stop=75.0), "a foot meets a stop"),
        (changed("pan_pad", "", button_depth=7.0), "[pan_pad] the button and its spring have no"),
        (changed("pan_clamp", "", head=12.0), "[pan_clamp] the button and its spring have no"),
        (changed("lip", "", height=40.0), "the lip reaches below the base"),
        (changed("signal_head", "", lamp_pitch=45.0), "the lowest lamp meets the sounder"),
        (changed("control_box", "", wall_inset=80.0), "openings are less than 10 mm apart"),
    ],
)
def test_dimensions_that_cannot_all_be_are_named(params: Params, says: str) -> None:
    assert any(says in line for line in contradictions(params))
    assert contradictions(read_params()) == []


def screw_mm(ref: str) -> float:
    found = re.search(r"M\d × (\d+)", read_params().bought[ref].what)
    assert found
    return float(found[1])


@pytest.mark.parametrize(("name", "ref"), [("drain", "H1"), ("supply", "H2")])
def test_screws_of_the_cell_hold_and_do_not_reach_through_it(name: str, ref: str) -> None:
    params = read_params()
    plate, cell = params.platform[name].plate, params.cell[name]
    inside = screw_mm(ref) - plate - params.fit.spacer
    assert 1.25 * cell.thread <= inside < cell.height / 2.0 + 1.0


def test_screws_of_the_cell_bear_their_torque() -> None:
    # T = 0.2 F d (common practice); stress area of M6 20.1 mm2 and class 8.8 640 MPa (ISO 898-1),
    # a countersunk head bears 80 % (ISO 10642): all from memory
    bears_MPa = 0.8 * 640.0
    for cell in read_params().cell.values():
        force_N = cell.tightening_Nm / (0.2 * cell.thread / 1000.0)
        assert force_N / 20.1 < 0.9 * bears_MPa
        assert force_N / 20.1 > 0.9 * 0.8 * 450.0  # a screw of A2-70 would not: so the guide says
    assert all("class 8.8" in read_params().bought[ref].figures for ref in ("H1", "H2"))
    assert 6.0 / (0.2 * 0.006) / 20.1 < 0.9 * 0.8 * 450.0


@pytest.mark.parametrize("name", PLATFORMS)
def test_stops_reach_the_top_plate_and_do_not_stand_on_the_floor(name: str) -> None:
    params = read_params()
    needed = params.platform[name].plate + params.plate_gap(name) - params.platform[name].stop_gap
    below = screw_mm("H3") - needed
    assert 0.0 <= below < params.fit.foot_height / 3.0


@pytest.mark.parametrize("name", PLATFORMS)
def test_screws_of_the_lip_fill_their_nuts_and_stay_behind_the_skirt(name: str) -> None:
    params = read_params()
    lip, plate = params.lip, params.platform[name].plate
    pocket, nut = 2.0, 3.2  # mm: the pocket's floor lies so deep in the flange; ISO 4032, M4
    past = screw_mm("H6") - (plate + lip.flange_thickness - pocket)
    assert nut <= past < lip.height - lip.flange_thickness + pocket


def test_countersunk_screws_have_countersinks() -> None:
    for ref in ("P1", "P2", "P3", "P4"):
        for hole in FLAT[ref].holes:
            if not hole.layer.startswith("TAP"):
                assert hole.countersink == {6.6: 13.0, 4.5: 9.0}[hole.diameter], hole.purpose
                assert hole.purpose.endswith("from below" if ref in ("P1", "P3") else "from above")
        note = {text.dxf.text for text in cutting_file(ref).modelspace().query("TEXT")}
        assert sum("countersinks" in line for line in note) == 1


def test_the_thumb_screw_presses_on_the_buttons_axis_and_reaches_it() -> None:
    clamp, solid = read_params().pan_clamp, {p.ref: p.solid for p in printed_parts(read_params())}
    mid = clamp.throat * 0.6
    axis = solid["P9"].slice(-clamp.jaw - clamp.wall / 2.0), solid["P9"].slice(1.0)
    for section, bore in zip(axis, (clamp.screw_tap, clamp.button), strict=True):
        (hole,) = [ring for ring in section.to_polygons() if np.ptp(ring[:, 1]) < 10.0]
        assert np.allclose((hole.min(axis=0) + hole.max(axis=0)) / 2.0, (mid, 0.0), atol=0.01)
        assert np.ptp(hole[:, 0]) == pytest.approx(bore, abs=0.05)
    found = re.search(r"M5 × (\d+)", read_params().bought["H13"].what)
    assert found
    assert float(found[1]) > clamp.wall + clamp.jaw - 3.0  # as far as the thinnest edge


def test_stops_and_feet_have_their_holes_where_the_plan_has_them() -> None:
    base, params = FLAT["P1"], read_params()
    stops = [hole.at for hole in base.holes if hole.layer == "TAP_M6"]
    assert sorted(stops) == sorted(stop_places(params, "drain"))
    assert len([hole for hole in base.holes if hole.layer == "TAP_M8"]) == 3


# --- signal head, box, list of parts --------------------------------------------------------------


def test_lamps_stand_in_the_order_of_the_kits_pins() -> None:
    assert read_params().signal_head.lamps == tuple(pins().lamps())


def bill() -> dict[str, str]:
    """Each reference of the list of parts with its description."""
    rows = csv.DictReader(io.StringIO((HARDWARE / "bom.csv").read_text(encoding="utf-8")))
    return {ref: row["description"] for row in rows for ref in row["ref"].split()}


def test_openings_of_the_box_are_sockets_and_glands_of_the_list_of_parts() -> None:
    parts = bill()
    for opening in read_params().control_box.openings:
        assert "socket" in parts[opening.ref] or "gland" in parts[opening.ref]


def test_list_of_parts_names_files_that_are_there_and_no_reference_twice() -> None:
    rows = list(csv.DictReader(io.StringIO(parts_csv(read_params()))))
    assert tuple(rows[0]) == COLUMNS
    refs = [row["ref"] for row in rows]
    assert len(set(refs)) == len(refs)
    assert set(refs) <= set(bill())
    for row in rows:
        assert int(row["base"]) + int(row["option"]) > 0
        for column in ("file", "drawing"):
            assert not row[column] or (CAD / row[column]).is_file(), row["ref"]


# --- drawings -------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", [*DRAWINGS, *FIGURES], ids=lambda path: path.stem)
def test_no_text_runs_into_another_or_off_the_paper(path: Path) -> None:
    assert tight_texts(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", [*DRAWINGS, *FIGURES], ids=lambda path: path.stem)
def test_no_dimension_or_centre_line_strikes_a_text_out(path: Path) -> None:
    assert struck_texts(path.read_text(encoding="utf-8")) == []


def test_a_struck_text_is_found() -> None:
    sheet = Sheet((50.0, 50.0), "a struck text")
    sheet.text((10.0, 20.0), "struck")
    sheet.text((10.0, 30.0), "clear")
    sheet.line([(5.0, 19.0), (45.0, 19.0)], 0.13)
    sheet.line([(5.0, 25.0), (45.0, 25.0)], 0.13, "6 1 1 1")
    assert struck_texts(sheet.svg()) == ["struck"]


@pytest.mark.parametrize("name", PLATFORMS)
def test_side_of_a_platform_has_no_stray_dashes_in_its_plates(name: str) -> None:
    text = (CAD / "drawings" / f"{name}-platform.svg").read_text(encoding="utf-8")
    parts = [part for path in re.findall(r'd="([^"]+)" stroke-width="0.3"', text)
             for part in path.split("M")[1:]]  # fmt: skip
    assert len(parts) > 20
    lengths = [
        sum(math.dist(a, b) for a, b in pairwise(points))
        for part in parts
        for points in [[tuple(map(float, p.split())) for p in part.split("L")]]
    ]
    assert min(lengths) > 0.7  # mm on the paper


def test_texts_that_run_into_each_other_are_found() -> None:
    sheet = Sheet((50.0, 50.0), "two texts")
    sheet.text((10.0, 10.0), "one text")
    sheet.text((14.0, 11.0), "another")
    sheet.text((45.0, 30.0), "beyond")
    sheet.text((20.0, 40.0), "turned", turned=True)
    found = tight_texts(sheet.svg())
    assert found == [("beyond", "beyond the paper"), ("one text", "another")]


@pytest.mark.parametrize("path", DRAWINGS, ids=lambda path: path.stem)
def test_drawing_tells_revision_tolerance_licence_and_honest_status(path: Path) -> None:
    text, params = path.read_text(encoding="utf-8"), read_params()
    assert f"Revision {params.revision}; status: designed and simulated, not yet built" in text
    assert "ISO 2768-m" in text
    assert "CERN-OHL-P-2.0" in text
    assert path.stat().st_size < 60_000


def test_there_is_a_drawing_of_each_made_part_and_each_platform() -> None:
    named = {path.stem.split("-")[0].upper() for path in DRAWINGS}
    assert named == {*read_params().made, "DRAIN", "SUPPLY"}


def test_figures_tell_the_status_too() -> None:
    assert len(FIGURES) >= 8
    for path in FIGURES:
        assert "designed and simulated, not yet built" in path.read_text(encoding="utf-8")


def test_places_are_written_short_and_whole() -> None:
    assert symmetric([(-9.0, -9.0), (-9.0, 9.0), (9.0, -9.0), (9.0, 9.0)]) == ["±9, ±9"]
    assert symmetric([(5.0, -3.0), (5.0, 3.0), (1.0, 0.0)]) == ["5, ±3", "1, 0"]
    assert symmetric([(-4.0, 2.0)]) == ["−4, 2"]


def test_nothing_kept_names_this_machine() -> None:
    kept = [*CAD.rglob("*.dxf"), *CAD.rglob("*.svg"), *(HARDWARE / "docs").rglob("*.svg")]
    assert all(str(ROOT) not in path.read_text(encoding="utf-8") for path in kept)
