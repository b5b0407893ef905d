# SPDX-License-Identifier: Apache-2.0
"""Line drawings of solids: edges and outlines as seen from somewhere, hidden ones left out.

Parallel projection. The solids are drawn into a depth buffer first; then each edge is walked in
short steps, and a step is kept where nothing lies nearer.
"""

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from manifold3d import Manifold

Vector = npt.NDArray[np.float64]
Line = list[tuple[float, float]]

_PIXELS = 800  # of the depth buffer's longer side
_SHARP = math.cos(math.radians(22.0))  # flatter joints of faces are no edges: circles have 24 sides
_STEP = 1.5  # pixels between two looks along an edge
_SLACK = 3.0  # pixels that an edge may lie behind the buffer and still be seen


@dataclass(frozen=True)
class Camera:
    """Where one looks from: right and up on the picture, in the axes of the solids."""

    right: tuple[float, float, float]
    up: tuple[float, float, float]

    @property
    def axes(self) -> Vector:
        """Rows: right, up, towards the eye."""
        right, up = np.array(self.right, float), np.array(self.up, float)
        right, up = right / np.linalg.norm(right), up / np.linalg.norm(up)
        return np.array([right, up, np.cross(right, up)])

    def flat(self, point: Sequence[float]) -> tuple[float, float]:
        """Where a point comes to lie on the picture, mm."""
        x, y, _ = self.axes @ np.array(point, float)
        return float(x), float(y)


FRONT = Camera((1, 0, 0), (0, 0, 1))
ABOVE = Camera((1, 0, 0), (0, 1, 0))
BELOW = Camera((1, 0, 0), (0, -1, 0))
SIDE = Camera((0, 1, 0), (0, 0, 1))
_ISO = math.sqrt(1.0 / 6.0)
ISOMETRIC = Camera((math.sqrt(0.5), math.sqrt(0.5), 0), (-_ISO, _ISO, 2 * _ISO))
ISOMETRIC_BELOW = Camera((math.sqrt(0.5), math.sqrt(0.5), 0), (_ISO, -_ISO, 2 * _ISO))


def visible_lines(solids: Sequence[Manifold], camera: Camera) -> list[Line]:
    """Draw solids: lines in the picture's millimetres, y up.

    Args:
        solids: In their places. Those that touch keep the edge between them.
        camera: Where one looks from.
    """
    meshes = [_seen(solid, camera) for solid in solids]
    buffer = _DepthBuffer(np.vstack([corners for corners, _ in meshes]))
    for corners, faces in meshes:
        for face in faces:
            buffer.fill(corners[face])
    lines: list[Line] = []
    for corners, faces in meshes:
        for start, end in _edges(corners, faces):
            lines += buffer.seen(corners[start], corners[end])
    return _joined(lines)


def _seen(solid: Manifold, camera: Camera) -> tuple[Vector, npt.NDArray[np.int64]]:
    mesh = solid.to_mesh()
    corners = np.asarray(mesh.vert_properties, dtype=float)[:, :3] @ camera.axes.T
    return corners, np.asarray(mesh.tri_verts, dtype=np.int64)


def _edges(corners: Vector, faces: npt.NDArray[np.int64]) -> Iterator[tuple[int, int]]:
    """The edges worth drawing: sharp ones, and where the solid turns away from the eye."""
    a, b, c = (corners[faces[:, k]] for k in range(3))
    normals = np.cross(b - a, c - a)
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    is_towards = normals[:, 2] > 1e-9
    beside: dict[tuple[int, int], list[int]] = defaultdict(list)
    for n, (i, j, k) in enumerate(faces.tolist()):
        for start, end in ((i, j), (j, k), (k, i)):
            beside[(start, end) if start < end else (end, start)].append(n)
    for edge, (one, other, *_) in beside.items():
        if not (is_towards[one] or is_towards[other]):
            continue  # on the far side
        is_outline = is_towards[one] != is_towards[other]
        if is_outline or float(normals[one] @ normals[other]) < _SHARP:
            yield edge


class _DepthBuffer:
    """How near the nearest face is, pixel by pixel; larger is nearer."""

    def __init__(self, corners: Vector) -> None:
        low, high = corners[:, :2].min(axis=0), corners[:, :2].max(axis=0)
        self._pixel = float((high - low).max()) / _PIXELS
        self._low = low - 2.0 * self._pixel
        width, height = ((high - low) / self._pixel).astype(int) + 6
        self._depth = np.full((height, width), -np.inf)

    def fill(self, triangle: Vector) -> None:
        points = (triangle[:, :2] - self._low) / self._pixel
        (x0, y0), (x1, y1), (x2, y2) = points.tolist()
        area = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
        if area < 1e-9:  # turned away: something of the same solid lies nearer
            return
        left, bottom = np.floor(points.min(axis=0)).astype(int).tolist()
        right, top = (np.ceil(points.max(axis=0)).astype(int) + 1).tolist()
        x = np.arange(left, right) + 0.5 - x0
        y = (np.arange(bottom, top) + 0.5 - y0)[:, None]
        # shares of the second and third corner in each pixel
        u = x * ((y2 - y0) / area) - y * ((x2 - x0) / area)
        v = y * ((x1 - x0) / area) - x * ((y1 - y0) / area)
        z0, z1, z2 = triangle[:, 2].tolist()
        depth = u * (z1 - z0) + v * (z2 - z0) + z0
        depth[(u < 0.0) | (v < 0.0) | (u + v > 1.0)] = -np.inf
        part = self._depth[bottom:top, left:right]
        np.maximum(part, depth, out=part)

    def seen(self, start: Vector, end: Vector) -> list[Line]:
        """The parts of an edge that nothing hides."""
        length = float(np.hypot(*(end - start)[:2])) / self._pixel
        steps = max(int(length / _STEP), 1)
        share = np.linspace(0.0, 1.0, steps + 1)[:, None]
        points = start + share * (end - start)
        columns, rows = ((points[:, :2] - self._low) / self._pixel).astype(int).T
        around = [self._depth[rows + dy, columns + dx] for dy in (-1, 0, 1) for dx in (-1, 0, 1)]
        near = np.min(around, axis=0)
        is_seen = points[:, 2] >= near - _SLACK * self._pixel
        return _runs(points, is_seen)


def _runs(points: Vector, is_seen: npt.NDArray[np.bool_]) -> list[Line]:
    """Straight pieces between where an edge appears and where it vanishes."""
    lines: list[Line] = []
    begun: int | None = None
    for n in range(len(points) + 1):
        if n < len(points) and is_seen[n]:
            begun = n if begun is None else begun
        elif begun is not None:
            last = n - 1
            if last > begun:
                lines.append([_flat(points[begun]), _flat(points[last])])
            begun = None
    return lines


def _flat(point: Vector) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _joined(lines: list[Line]) -> list[Line]:
    """Put pieces that end on each other together: fewer, longer lines make smaller files."""
    ends: dict[tuple[float, float], list[int]] = defaultdict(list)
    keyed = [[_key(point) for point in line] for line in lines]
    for n, (start, end) in enumerate(keyed):
        ends[start].append(n)
        ends[end].append(n)
    used = [False] * len(lines)
    joined: list[Line] = []
    for n in range(len(lines)):
        if used[n]:
            continue
        used[n] = True
        path = list(keyed[n])
        for _ in range(2):
            _grow(path, keyed, ends, used)
            path.reverse()
        joined.append(path)
    return joined


def _grow(
    path: list[tuple[float, float]],
    keyed: list[list[tuple[float, float]]],
    ends: dict[tuple[float, float], list[int]],
    used: list[bool],
) -> None:
    while True:
        following = [n for n in ends[path[-1]] if not used[n]]
        if not following:
            return
        n = following[0]
        used[n] = True
        start, end = keyed[n]
        path.append(end if start == path[-1] else start)


def _key(point: tuple[float, float]) -> tuple[float, float]:
    return round(point[0], 2) + 0.0, round(point[1], 2) + 0.0
