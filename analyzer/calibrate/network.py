"""What one photo and the tape say together, as equations: sheets, marks, rulers and distances.

Unknown are the homography, where and how each sheet lies, the printer's scaling, how much the
dark outlines grew in the picture, and the plan positions of marks. Known, each with its standard
uncertainty, are picture positions, taped places, turns, rulers and distances: what was taped is a
prior and not a truth.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from analyzer import frames
from analyzer.calibrate.homography import normaliser, project
from analyzer.records import Float

GROWTH_U_PX = 0.3
"""Prior of the growth of dark outlines: blooming of white paper and ink spread, part of a pixel."""

SQUARE_U = 0.002
"""How nearly a camera's pixels are square and its corrected lens keeps right angles, relative."""

N_MATRIX = 8
_GROWTH = N_MATRIX
_SCALES = N_MATRIX + 1


@dataclass(frozen=True, slots=True, eq=False)
class SheetBody:
    """A sheet in the adjustment: corners as printed and as seen, and what was typed about it.

    ``centre_mm`` None where its place was not taped, ``turn_rad`` None where its turn was not
    noted; ``scale_group`` indexes :attr:`Network.scales`.
    """

    name: str
    local_mm: Float
    px: Float
    u_px: Float
    growth: Float
    scale_group: int
    centre_mm: tuple[float, float] | None = None
    centre_u_mm: float = 1.0
    turn_rad: float | None = None
    turn_u_rad: float = 1.0


@dataclass(frozen=True, slots=True)
class MarkBody:
    """A marked point: (row, col) with uncertainty, and its place in plan where that is known."""

    name: str
    px: tuple[float, float]
    u_px: float
    place_mm: tuple[float, float] | None = None
    place_u_mm: float = 1.0


@dataclass(frozen=True, slots=True)
class TapeBody:
    """A taped distance between two marks, by index."""

    first: int
    second: int
    mm: float
    u_mm: float


@dataclass(frozen=True, slots=True)
class CameraBody:
    """What the file says of the camera: focal length in px and where its axis meets the picture.

    ``focal_u_rel`` is relative; ``middle_px`` (row, col) with ``middle_u_px``.
    """

    focal_px: float
    focal_u_rel: float
    middle_px: tuple[float, float]
    middle_u_px: float


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """All that is known about one photo. ``scales``: (printed scale, uncertainty) by group.

    Unknowns are ordered: eight elements of the matrix, growth, scales, (x, y, turn) of each
    sheet, (x, y) of each mark, and with a camera: log of the focal length over its nominal value,
    (row, col) of its axis.
    """

    sheets: tuple[SheetBody, ...] = ()
    scales: tuple[tuple[float, float], ...] = ()
    marks: tuple[MarkBody, ...] = ()
    tapes: tuple[TapeBody, ...] = ()
    camera: CameraBody | None = None

    @property
    def n_unknowns(self) -> int:
        """Number of unknowns."""
        return self.camera_at + (3 if self.camera else 0)

    @property
    def camera_at(self) -> int:
        """Index of the first unknown of the camera."""
        return self.mark_at(len(self.marks))

    @property
    def px(self) -> Float:
        """All picture points (N, 2) of (row, col): corners of the sheets, then marks."""
        return np.concatenate([s.px for s in self.sheets] + [np.array([m.px]) for m in self.marks])

    def scale_at(self, group: int) -> int:
        """Index of the unknown scale of a group."""
        return _SCALES + group

    def sheet_at(self, index: int) -> int:
        """Index of the first unknown of a sheet."""
        return _SCALES + len(self.scales) + 3 * index

    def mark_at(self, index: int) -> int:
        """Index of the first unknown of a mark."""
        return self.sheet_at(len(self.sheets)) + 2 * index


class Equations(NamedTuple):
    """Weighted residuals (M,), their derivatives (M, U), and what each one is about."""

    residuals: Float
    derivatives: Float
    labels: tuple[tuple[str, str], ...]


def rigid_pose(local: Float, plan: Float) -> Float:
    """Centre x, y and turn in radians that lay points (N, 2) nearest to others, without scaling.

    Closed form in two dimensions (Kabsch 1976, from memory).
    """
    a, b = local - local.mean(axis=0), plan - plan.mean(axis=0)
    turn = np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
    centre = plan.mean(axis=0) - _turned(local.mean(axis=0)[None], turn)[0]
    return np.array([centre[0], centre[1], turn])


def sheet_corners(local_mm: Float, pose: Float, scale: float) -> Float:
    """Points (N, 2) of a sheet in plan, from its pose (x, y, turn in radians) and printed scale."""
    corners: Float = pose[:2] + scale * _turned(local_mm, pose[2])
    return corners


def start_unknowns(network: Network, px_from_plan: Float) -> tuple[Float, Float, Float]:
    """Unknowns that belong to a rough homography, and both normalisers (to_plan, to_px).

    Points that the rough homography puts behind the camera give nan.
    """
    px = network.px
    rough = frames.apply(np.linalg.inv(px_from_plan), px)
    to_plan, to_px = normaliser(rough), normaliser(px)
    matrix = to_px @ px_from_plan @ np.linalg.inv(to_plan)
    unknowns = np.zeros(network.n_unknowns)
    unknowns[:N_MATRIX] = (matrix / matrix[2, 2]).ravel()[:N_MATRIX]
    row = 0
    for group, (value, _) in enumerate(network.scales):
        unknowns[network.scale_at(group)] = value
    for i, sheet in enumerate(network.sheets):
        at = network.sheet_at(i)
        unknowns[at : at + 3] = rigid_pose(sheet.local_mm, rough[row : row + len(sheet.px)])
        row += len(sheet.px)
    for i, mark in enumerate(network.marks):
        at = network.mark_at(i)
        unknowns[at : at + 2] = rough[row + i] if mark.place_mm is None else mark.place_mm
    if network.camera:
        unknowns[network.camera_at + 1 :] = network.camera.middle_px
    return unknowns, to_plan, to_px


def equations(network: Network, unknowns: Float, to_plan: Float, to_px: Float) -> Equations | None:
    """All residuals (observed minus computed, over its uncertainty); None if a point is behind the camera."""
    rows = _Rows(network.n_unknowns)
    matrix = np.append(unknowns[:N_MATRIX], 1.0).reshape(3, 3)
    growth = unknowns[_GROWTH]
    for i, sheet in enumerate(network.sheets):
        at, scale_at = network.sheet_at(i), network.scale_at(sheet.scale_group)
        pose, scale = unknowns[at : at + 3], unknowns[scale_at]
        plan = sheet_corners(sheet.local_mm, pose, scale)
        view = _view(matrix, plan, to_plan, to_px)
        if view is None:
            return None
        seen, by_matrix, by_plan = view
        arm = plan - pose[:2]
        square = np.stack([-arm[:, 1], arm[:, 0]], axis=1)
        derivative = np.zeros((len(plan), 2, network.n_unknowns))
        derivative[:, :, :N_MATRIX] = by_matrix
        derivative[:, :, _GROWTH] = sheet.growth
        derivative[:, :, at : at + 2] = by_plan
        derivative[:, :, at + 2] = np.einsum("nij,nj->ni", by_plan, square)
        derivative[:, :, scale_at] = np.einsum("nij,nj->ni", by_plan, arm / scale)
        rest = sheet.px - seen - growth * sheet.growth
        rows.add_points(rest, sheet.u_px, derivative, ("corner", sheet.name))
    for i, mark in enumerate(network.marks):
        at = network.mark_at(i)
        view = _view(matrix, unknowns[None, at : at + 2], to_plan, to_px)
        if view is None:
            return None
        seen, by_matrix, by_plan = view
        derivative = np.zeros((1, 2, network.n_unknowns))
        derivative[:, :, :N_MATRIX] = by_matrix
        derivative[:, :, at : at + 2] = by_plan
        rows.add_points(np.array([mark.px]) - seen, np.array([mark.u_px]), derivative, ("pick", mark.name))
    _add_readings(rows, network, unknowns)
    if network.camera:
        _add_camera(rows, network.camera, unknowns, network.camera_at, to_px)
    return rows.equations()


def _add_camera(rows: _Rows, camera: CameraBody, unknowns: Float, at: int, to_px: Float) -> None:
    """A plane seen by a camera with square pixels: its two axes stay perpendicular and equal.

    With K the camera's matrix and h1, h2 the first columns of px_from_plan, K^-1 h1 and K^-1 h2
    are perpendicular and of one length (Zhang 2000, eq. 3 and 4, from memory). That fixes how the
    scale changes beyond a single sheet from how the sheet itself is foreshortened.
    """
    from_px = np.linalg.inv(to_px)

    def axes(values: Float) -> Float:
        matrix = from_px @ np.append(values[:N_MATRIX], 1.0).reshape(3, 3)[:, :2]
        rays = matrix.copy()
        rays[:2] = (matrix[:2] - np.outer(values[-2:], matrix[2])) / (camera.focal_px * np.exp(values[-3]))
        a, b = rays.T
        aa, bb = a @ a, b @ b
        return np.array([a @ b / np.sqrt(aa * bb), (aa - bb) / (aa + bb)])

    where = np.r_[np.arange(N_MATRIX), np.arange(at, at + 3)]
    values = unknowns[where]
    steps = np.array([1e-6] * (N_MATRIX + 1) + [1e-2, 1e-2])
    by = np.stack([(axes(values + d) - axes(values - d)) / (2 * d.sum()) for d in np.diag(steps)], axis=1)
    for name, value, derivative in zip(("angle", "ratio"), axes(values), by, strict=True):
        along = dict(zip(where.tolist(), derivative.tolist(), strict=True))
        rows.add(-float(value), SQUARE_U, along, ("camera", name))
    rows.add(-unknowns[at], camera.focal_u_rel, {at: 1.0}, ("camera", "focal length"))
    for k in (0, 1):
        rest = camera.middle_px[k] - unknowns[at + 1 + k]
        rows.add(rest, camera.middle_u_px, {at + 1 + k: 1.0}, ("camera", "axis"))


def _add_readings(rows: _Rows, network: Network, unknowns: Float) -> None:
    """Everything that was not read from the picture."""

    def read(value: float, u: float, at: int, label: tuple[str, str]) -> None:
        rows.add(value - unknowns[at], u, {at: 1.0}, label)

    read(0.0, GROWTH_U_PX, _GROWTH, ("growth", "outlines"))
    for group, (value, u) in enumerate(network.scales):
        read(value, u, network.scale_at(group), ("scale", f"printer {group + 1}"))
    for i, sheet in enumerate(network.sheets):
        at = network.sheet_at(i)
        if sheet.centre_mm is not None:
            read(sheet.centre_mm[0], sheet.centre_u_mm, at, ("place", sheet.name))
            read(sheet.centre_mm[1], sheet.centre_u_mm, at + 1, ("place", sheet.name))
        if sheet.turn_rad is not None:
            rest = (sheet.turn_rad - unknowns[at + 2] + np.pi) % (2 * np.pi) - np.pi
            rows.add(float(rest), sheet.turn_u_rad, {at + 2: 1.0}, ("turn", sheet.name))
    for i, mark in enumerate(network.marks):
        at = network.mark_at(i)
        if mark.place_mm is not None:
            read(mark.place_mm[0], mark.place_u_mm, at, ("place", mark.name))
            read(mark.place_mm[1], mark.place_u_mm, at + 1, ("place", mark.name))
    for tape in network.tapes:
        i, j = network.mark_at(tape.first), network.mark_at(tape.second)
        apart = unknowns[j : j + 2] - unknowns[i : i + 2]
        length = max(float(np.hypot(apart[0], apart[1])), 1e-9)
        ex, ey = (float(v) for v in apart / length)
        name = f"{network.marks[tape.first].name}-{network.marks[tape.second].name}"
        rows.add(tape.mm - length, tape.u_mm, {i: -ex, i + 1: -ey, j: ex, j + 1: ey}, ("tape", name))


def _view(matrix: Float, plan: Float, to_plan: Float, to_px: Float) -> tuple[Float, Float, Float] | None:
    """Picture positions (N, 2), derivatives by the matrix (N, 2, 8) and by the place (N, 2, 2)."""
    scaled = frames.apply(to_plan, plan)
    if not (np.column_stack([scaled, np.ones(len(scaled))]) @ matrix[2] > 1e-6).all():
        return None
    mapped, by_matrix, by_point = project(matrix, scaled)
    k_px = to_px[0, 0]
    return (mapped - to_px[:2, 2]) / k_px, by_matrix / k_px, by_point * (to_plan[0, 0] / k_px)


def _turned(points: Float, turn_rad: float) -> Float:
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    turned: Float = points @ np.array([[c, s], [-s, c]])
    return turned


class _Rows:
    """Collects equations; derivatives are given for the computed value, so they enter negative."""

    def __init__(self, n_unknowns: int) -> None:
        self._n = n_unknowns
        self._rest: list[Float] = []
        self._by: list[Float] = []
        self._labels: list[tuple[str, str]] = []

    def add(self, rest: float, u: float, derivative: dict[int, float], label: tuple[str, str]) -> None:
        row = np.zeros((1, self._n))
        for at, value in derivative.items():
            row[0, at] = -value / u
        self._rest.append(np.array([rest / u]))
        self._by.append(row)
        self._labels.append(label)

    def add_points(self, rest: Float, u: Float, derivative: Float, label: tuple[str, str]) -> None:
        self._rest.append((rest / u[:, None]).ravel())
        self._by.append(-(derivative / u[:, None, None]).reshape(-1, self._n))
        self._labels += [label] * (2 * len(rest))

    def equations(self) -> Equations:
        return Equations(np.concatenate(self._rest), np.concatenate(self._by), tuple(self._labels))
