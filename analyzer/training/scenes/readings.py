"""Readings that a person would have taken on a drawn slab: the truth, a small error, a rounding."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from analyzer.training.render.noise import generator
from analyzer.training.render.plan import Point
from analyzer.training.scenes.book import Table, Value, feet, inches, millimetres, place_ft, place_m
from analyzer.training.scenes.plan import SampleJob, Sheet
from analyzer.units import MM_PER_FT, MM_PER_IN, MM_PER_M

CLICK_U_PX = 1.0
"""Standard uncertainty with which a corner is clicked on a photo, in pixels (judgement)."""


def stations(
    job: SampleJob, places_mm: Mapping[str, Point], rod_at_zero_mm: float, again: str, metric: bool
) -> list[Table]:
    """Rod readings at places, and one of them read again at the end.

    The reading is ``rod_at_zero_mm`` less the height of the surface, with a normal error of half
    the rounding step (1/16 in or 1 mm).
    """
    rng = generator(job.seed, 900)
    step = 1.0 if metric else MM_PER_IN / 16
    within = "1 mm" if metric else "1/16 in"
    told = millimetres if metric else inches
    tables: list[Table] = []
    points = np.array(list(places_mm.values()), dtype=np.float64)
    rods = rod_at_zero_mm - job.height_mm(points) + rng.normal(0, 0.5 * step, len(points))
    for k, (name, point) in enumerate(places_mm.items()):
        at = place_m(*point) if metric else place_ft(*point)
        comment = ""
        if not tables:
            comment = "Levels: rod readings, which grow downwards. The first is read again at the end."
        tables.append(
            Table("station", {"name": name, "at": at, "rod": f"{told(rods[k])} +- {within}"}, comment=comment)
        )
    first = list(places_mm).index(again)
    rod = rods[first] + rng.normal(0, 0.5 * step)
    tables.append(
        Table(
            "station",
            {"name": f"{again}-again", "check_of": again, "rod": f"{told(float(rod))} +- {within}"},
        )
    )
    return tables


def marks(
    job: SampleJob, photo_id: str, named: Mapping[str, Point], places: Mapping[str, Value]
) -> list[Table]:
    """Marks on a photo where the named plan points show, clicked to about a pixel.

    ``places`` holds what is typed as the place of a mark (a corner's name or a point); a mark
    without one is known by its tape distances alone.
    """
    shot = job.shot(photo_id)
    rng = generator(job.seed, 901, *photo_id.encode())
    px = shot.camera().project(np.array(list(named.values()), dtype=np.float64))
    px = px + rng.normal(0, CLICK_U_PX, px.shape)
    rows, cols = shot.size_px
    tables: list[Table] = []
    for (name, _), (row, col) in zip(named.items(), px, strict=True):
        if not (0 <= row < rows and 0 <= col < cols):
            raise ValueError(f"mark {name} lies outside photo {photo_id} of {job.name}: {row:.0f}, {col:.0f}")
        values: dict[str, Value] = {"name": name, "px": [round(float(col)), round(float(row))]}
        if name in places:
            values["at"] = places[name]
        tables.append(Table("photo.marks", values))
    return tables


def tapes(
    job: SampleJob, named: Mapping[str, Point], pairs: Sequence[tuple[str, str]], metric: bool
) -> list[Table]:
    """Tape distances between marks, read to 1/8 in or 2 mm with a small error."""
    rng = generator(job.seed, 902)
    tables: list[Table] = []
    for first, second in pairs:
        true = float(np.hypot(*np.subtract(named[first], named[second])))
        read = true + rng.normal(0, 1.5)
        text = f"{millimetres(read)} +- 3 mm" if metric else f"{feet(read, 8)} +- 1/8 in"
        tables.append(Table("photo.distances", {"from": first, "to": second, "distance": text}))
    return tables


def sheets(laid: Sequence[Sheet], metric: bool) -> list[Table]:
    """Where the marker sheets lay, and their rulers as measured."""
    tables: list[Table] = []
    for sheet in laid:
        at = place_m(*sheet.centre_mm) if metric else place_ft(*sheet.centre_mm)
        within = "5 mm" if metric else "1/4 in"
        values: dict[str, Value] = {
            "number": sheet.number, "at": at, "at_within": within, "turned_deg": sheet.turned_deg,
            "ruler": "100 mm +- 0.5 mm",
        }  # fmt: skip
        comment = "" if tables else "Printed marker sheets: where the centre cross lay."
        tables.append(Table("sheet", values, comment=comment))
    return tables


def only(name: str, comment: str = "", /, **values: Value) -> Table:
    """A table that is there once."""
    return Table(name, values, many=False, comment=comment)


def stops_answered(**changed: str) -> Table:
    """All questions that come before advice, answered with no but for those given."""
    names = (
        "suspended", "post_tension", "void_below", "carries_posts", "carries_walls", "heating_tubes",
        "foundation_movement", "retaining_wall_movement",
    )  # fmt: skip
    return Table("stops", {**dict.fromkeys(names, "no"), **changed}, many=False)


def corners(named: Mapping[str, Point], metric: bool) -> list[Table]:
    """The outline, corner by corner."""
    told = place_m if metric else place_ft
    return [Table("corner", {"name": name, "at": told(*point)}) for name, point in named.items()]


def square_feet(mm2: float) -> str:
    """An area as written on site, to half a square foot."""
    return f"{round(mm2 / MM_PER_FT**2 * 2) / 2:g} ft2"


def square_metres(mm2: float) -> str:
    """An area as written on site, to 0.05 m2."""
    return f"{round(mm2 / MM_PER_M**2 * 20) / 20:g} m2"


def photo(
    job: SampleJob,
    photo_id: str,
    named: Mapping[str, Point] | None = None,
    places: Mapping[str, Value] | None = None,
    comment: str = "",
    **more: Value,
) -> list[Table]:
    """A photo's entry with its marks; without ``named`` it is scaled by marker sheets."""
    values: dict[str, Value] = {"id": photo_id, "file": job.shot(photo_id).file}
    if named:
        values["markers"] = False
    entry = Table("photo", {**values, **more}, comment=comment)
    return [entry, *marks(job, photo_id, named or {}, places or {})]


def in_view(
    job: SampleJob, photo_id: str, named: Mapping[str, Point], margin_px: float = 60.0
) -> dict[str, Point]:
    """Those of the named points that a photo shows well inside its frame."""
    shot = job.shot(photo_id)
    camera = shot.camera()
    points = np.array(list(named.values()), dtype=np.float64)
    px = camera.project(points)
    most = np.array(shot.size_px) - margin_px
    ok = (camera.depth(points) > 0) & ((px > margin_px) & (px < most)).all(axis=1)
    return {name: point for (name, point), good in zip(named.items(), ok, strict=True) if good}


def at_corners(
    panels: Sequence[Sequence[Point]], inset_mm: float, corners_used: Sequence[int]
) -> dict[str, Point]:
    """Stations S1, S2, ... near the corners of rectangular panels: which corners, and how far inside."""
    places: dict[str, Point] = {}
    for panel in panels:
        points = np.array(panel)
        middle = points.mean(axis=0)
        for k in corners_used:
            inside = points[k] + inset_mm * np.sign(middle - points[k])
            places[f"S{len(places) + 1}"] = (float(inside[0]), float(inside[1]))
    return places
