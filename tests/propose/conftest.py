"""Sites built in code: a slab, its levels as they would be read, its heights."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest
import shapely
from scipy.spatial import Delaunay

from analyzer.propose.design import DesignRules, load_design
from analyzer.records import (
    Clearance,
    Corner,
    EdgeEntry,
    FieldBook,
    JobHead,
    LevelMap,
    PanelLayout,
    StationLevel,
)
from analyzer.terms import Abuts, HeightKind
from analyzer.units import MM_PER_FT

Heights = Callable[[np.ndarray, np.ndarray], np.ndarray]


@pytest.fixture
def exact() -> DesignRules:
    """The shipped rules with no margin for reading uncertainty, for closed-form checks."""
    return load_design().with_values(coverage=0.0)


@pytest.fixture
def make_site() -> Callable[..., tuple[FieldBook, LevelMap]]:
    """A slab of ``size`` ft (or any outline in mm) whose surface is ``height(x, y)`` in mm.

    Vertices are a grid of ``cells`` over the box, those inside the outline.
    """

    def build(
        height: Heights,
        size: tuple[float, float] = (20.0, 12.0),
        abuts: dict[int, Abuts] | None = None,
        cells: tuple[int, int] = (4, 3),
        u_mm: float = 0.0,
        outline: Sequence[tuple[float, float]] | None = None,
        **more: Any,
    ) -> tuple[FieldBook, LevelMap]:
        w, d = size[0] * MM_PER_FT, size[1] * MM_PER_FT
        corners = outline or [(0.0, 0.0), (w, 0.0), (w, d), (0.0, d)]
        names = [chr(65 + k) for k in range(len(corners))]
        edges = tuple(
            EdgeEntry(names[k], names[(k + 1) % len(corners)], kind)
            for k, kind in (abuts if abuts is not None else {2: Abuts.HOUSE}).items()
        )
        head = JobHead("test", "test", dt.date(2025, 5, 1), "tester", invented=True)
        field = FieldBook(
            job=head,
            outline=tuple(Corner(n, x, y) for n, (x, y) in zip(names, corners, strict=True)),
            source="test.toml",
            sha256="0" * 64,
            edges=edges,
            **more,
        )
        box = np.array(corners)
        gx, gy = np.meshgrid(
            np.linspace(box[:, 0].min(), box[:, 0].max(), cells[0] + 1),
            np.linspace(box[:, 1].min(), box[:, 1].max(), cells[1] + 1),
        )
        xy = np.column_stack([gx.ravel(), gy.ravel()])
        polygon = shapely.Polygon(corners)
        xy = xy[shapely.intersects_xy(polygon, xy[:, 0], xy[:, 1])]
        triangles = np.asarray(Delaunay(xy).simplices)
        middle = xy[triangles].mean(axis=1)
        triangles = triangles[shapely.contains_xy(polygon, middle[:, 0], middle[:, 1])]
        z = height(xy[:, 0], xy[:, 1])
        stations = tuple(
            StationLevel(f"S{k + 1}", float(x), float(y), float(h), u_mm, 0.0, None)
            for k, ((x, y), h) in enumerate(zip(xy, z, strict=True))
        )
        slope = np.linalg.lstsq(np.column_stack([xy, np.ones(len(xy))]), z, rcond=None)[0]
        levels = LevelMap(
            stations=stations,
            plane=(float(slope[0]), float(slope[1]), float(slope[2])),
            plane_u=(0.0, 0.0, 0.0),
            residual_rms_mm=0.0,
            triangles=tuple((int(a), int(b), int(c)) for a, b, c in triangles),
            panels=(),
            edges=(),
            ponds=(),
            fall=float(np.hypot(slope[0], slope[1])),
            fall_u=0.0,
            fall_direction_deg=float(np.degrees(np.arctan2(-slope[1], -slope[0]))),
            datum="heights as typed in the field book",
        )
        return field, levels

    return build


@pytest.fixture
def no_panels() -> PanelLayout:
    """A layout without panels or joints."""
    return PanelLayout((), (), (), 0.0)


@pytest.fixture
def clearance() -> Callable[..., Clearance]:
    """One height over the slab, exact unless told otherwise."""

    def build(
        kind: HeightKind, at: tuple[float, float], mm: float | None, name: str = "it", **more: Any
    ) -> Clearance:
        more.setdefault("height_u_mm", None if mm is None else 0.0)
        return Clearance(kind=kind, name=name, at_mm=at, height_mm=mm, **more)

    return build
