"""Plans and field books built in code for quantities."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any

import pytest

from analyzer.records import (
    Corner,
    DistressSummary,
    EdgeEntry,
    FieldBook,
    GradePlan,
    JobHead,
    PanelLayout,
    StationGrade,
)
from analyzer.terms import Abuts, Option


@pytest.fixture
def make_book() -> Callable[..., FieldBook]:
    """A field book with this outline in mm; ``abuts`` by edge number."""

    def build(
        outline: Sequence[tuple[float, float]], abuts: dict[int, Abuts] | None = None, **more: Any
    ) -> FieldBook:
        names = [chr(65 + k) for k in range(len(outline))]
        edges = tuple(
            EdgeEntry(names[k], names[(k + 1) % len(names)], kind) for k, kind in (abuts or {}).items()
        )
        more.setdefault("job", JobHead("test", "test", dt.date(2025, 5, 1), "tester", invented=True))
        return FieldBook(
            outline=tuple(Corner(n, x, y) for n, (x, y) in zip(names, outline, strict=True)),
            source="test.toml",
            sha256="0" * 64,
            edges=edges,
            **more,
        )

    return build


@pytest.fixture
def make_plan() -> Callable[..., GradePlan]:
    """A plan from points (x, y, thickness, u) and triangles."""

    def build(
        points: Sequence[tuple[float, float, float, float]],
        triangles: Sequence[tuple[int, int, int]],
        option: Option = Option.OVERLAY_BONDED,
        **more: Any,
    ) -> GradePlan:
        grades = tuple(StationGrade(f"S{k + 1}", x, y, 0.0, t, t, u) for k, (x, y, t, u) in enumerate(points))
        low, high = min(points, key=lambda p: p[2]), max(points, key=lambda p: p[2])
        more.setdefault("thickness_mean_mm", sum(p[2] for p in points) / len(points))
        return GradePlan(
            option=option,
            plane=(0.0, 0.0, 0.0),
            fall=0.0,
            fall_direction_deg=0.0,
            grades=grades,
            triangles=tuple(triangles),
            thickness_min_mm=low[2],
            thickness_min_u_mm=low[3],
            thickness_min_at_mm=(low[0], low[1]),
            thickness_max_mm=high[2],
            thickness_max_u_mm=high[3],
            heights_after=(),
            **more,
        )

    return build


@pytest.fixture
def nothing_wrong() -> DistressSummary:
    """A slab without distress."""
    return DistressSummary((), (), (), (), (), (), 0.0)


@pytest.fixture
def no_panels() -> PanelLayout:
    """A layout without panels or joints."""
    return PanelLayout((), (), (), 0.0)
