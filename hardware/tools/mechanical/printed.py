# SPDX-License-Identifier: Apache-2.0
"""The printed parts by reference, and their files (binary STL, mm)."""

import struct
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import trimesh
from manifold3d import Manifold

from mechanical.head_solids import head_body, head_lid
from mechanical.pan_solids import pan_clamp, pan_pad
from mechanical.params import Params
from mechanical.solids import lip_corner

HOT = "PA6-CF, PPS or milled PTFE: holds 150 °C; never PLA, PETG or ABS"
COLD = "PETG or ABS"


@dataclass(frozen=True)
class PrintedPart:
    """A part that is printed."""

    ref: str
    name: str
    material: str
    solid: Manifold


def printed_parts(params: Params) -> Iterator[PrintedPart]:
    """All printed parts, by their references."""
    yield PrintedPart("P6", "drain platform, lip corner", COLD, lip_corner(params, "drain"))
    yield PrintedPart("P7", "supply platform, lip corner", COLD, lip_corner(params, "supply"))
    yield PrintedPart("P8", "pan pad", HOT, pan_pad(params))
    yield PrintedPart("P9", "pan clamp", HOT, pan_clamp(params))
    yield PrintedPart("P12", "signal head, body", COLD, head_body(params))
    yield PrintedPart("P13", "signal head, lid", COLD, head_lid(params))


def stl_bytes(solid: Manifold, title: str) -> bytes:
    """Write a solid as binary STL; the same solid gives the same bytes."""
    mesh = solid.to_mesh()
    corners = np.asarray(mesh.vert_properties, dtype=np.float32)[:, :3][mesh.tri_verts]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    normals = normals / np.where(length > 0.0, length, 1.0)
    record = np.zeros(len(corners), dtype=[("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    record["n"], record["v"] = normals, corners
    header = title.encode("ascii", "replace")[:80].ljust(80)
    return header + struct.pack("<I", len(record)) + record.tobytes()


def read_stl(raw: bytes) -> trimesh.Trimesh:
    """Read an STL file back, by an independent library."""
    mesh = trimesh.load_mesh(trimesh.util.wrap_as_stream(raw), file_type="stl")
    assert isinstance(mesh, trimesh.Trimesh)
    return mesh


def stl_meaning(raw: bytes) -> object:
    """Tell what a printed part's file says: its extents and volume, not its triangles."""
    mesh = read_stl(raw)
    return (np.round(mesh.bounds, 2).tolist(), round(float(mesh.volume) / 10.0), mesh.is_watertight)
