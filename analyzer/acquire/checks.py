"""Checks between the entries of a field book: names, places, levels, steps, dates, files.

Each check adds what is wrong and goes on, so that one reading finds everything. Values that could
not be read are missing here and were told before.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import shapely
import shapely.validation

from analyzer import units
from analyzer.acquire.entries import edge_names
from analyzer.acquire.form import Table
from analyzer.acquire.kinds import suggestion
from analyzer.acquire.tables import BOOK
from analyzer.acquire.walk import WHERE, Entry
from analyzer.errors import FieldBookError, SlabError
from analyzer.terms import Goes, HeightKind, UnitSystem

ON_SLAB_MM = 2 * units.MM_PER_IN
"""A place on the slab may lie this far outside the outline: both were taken with a tape."""
BESIDE_SLAB_MM = 6 * units.MM_PER_FT
"""Heights (doors, drains, posts) and marker sheets may lie this far beside the slab."""
SAME_PLACE_MM = 5.0
CHECK_PLACE_MM = 100.0
"""A repeated reading that names a place of its own must name it this near the first."""
_LEAST_AREA_MM2 = 0.01 * units.MM2_PER_M2
_DAY = dt.timedelta(days=1)


def check_book(values: Entry, folder: Path | None, today: dt.date) -> list[SlabError]:
    """Everything that is wrong between the entries, after places have been resolved.

    Parameters
    ----------
    values : dict
        The book as read by :func:`analyzer.acquire.walk.read_table`.
    folder : pathlib.Path or None
        Where photo files lie; None leaves the files unchecked.
    today : datetime.date
        A date later than the day after is an error (the day after: time zones).
    """
    problems: list[SlabError] = []
    for check in (_names, _edges, _levels, _flights, _photos, _joints):
        problems.extend(check(values))
    problems.extend(_dates(values, today))
    outline = _outline(values, problems)
    if outline is not None:
        problems.extend(_places(values, outline))
        problems.extend(_area_outlines(values))
    if folder is not None:
        problems.extend(_files(values, folder))
    return problems


def _all(values: Entry, name: str) -> list[Entry]:
    entries: list[Entry] = values.get(name, [])
    return entries


def _wrong(entry: Entry, problem: str, remedy: str, key: str = "") -> FieldBookError:
    return FieldBookError(f"{entry[WHERE]}, {key}" if key else entry[WHERE], problem, remedy)


def _doubles(entries: Iterable[Entry], key: Callable[[Entry], Any]) -> Iterator[tuple[Entry, Entry]]:
    """Pairs (first, later) of entries with the same key; entries without one are passed over."""
    seen: dict[Any, Entry] = {}
    for entry in entries:
        value = key(entry)
        if value is None:
            continue
        if value in seen:
            yield seen[value], entry
        seen.setdefault(value, entry)


def _names(values: Entry) -> Iterator[SlabError]:
    def within(table: Table, entries: list[Entry]) -> Iterator[SlabError]:
        for inner in table.tables:
            for entry in entries:
                found = entry.get(inner.name)
                if isinstance(found, list):
                    yield from within(inner, found)
        if not table.many or not table.label:
            return

        def folded(entry: Entry) -> str | None:
            name = entry.get(table.label)
            return None if name is None else str(name).casefold()

        for _, later in _doubles(entries, folded):
            yield _wrong(later, f"there are two of that {table.label}", "give each its own, or take one out")

    for table in BOOK.tables:
        found = values.get(table.name)
        if found is not None:
            yield from within(table, found if table.many else [found])


def _outline(values: Entry, problems: list[SlabError]) -> shapely.Polygon | None:
    """The slab's polygon, or None where the corners do not make one."""
    corners = _all(values, "corner")
    if len(corners) < 3 or any("at" not in corner for corner in corners):
        return None
    for first, later in _doubles(corners, lambda corner: corner["at"]):
        problems.append(
            _wrong(
                later, f"lies at the same place as corner {first.get('name')}", "correct one of them", "at"
            )
        )
        return None
    polygon = shapely.Polygon([corner["at"] for corner in corners])
    subject = f"{values[WHERE]}, outline"
    remedy = "give the corners in order around the slab and check their places"
    if polygon.area < _LEAST_AREA_MM2 and polygon.is_valid:
        problems.append(FieldBookError(subject, "the corners enclose no area", remedy))
        return None
    if not polygon.is_valid:
        crossing = _crossing_edges(corners)
        if crossing:
            problem = f"edges {crossing[0]} and {crossing[1]} cross or touch"
        else:
            problem = "the outline crosses itself"
        problems.append(FieldBookError(subject, problem, remedy))
        return None
    return polygon


def _crossing_edges(corners: list[Entry]) -> tuple[str, str] | None:
    """Names of the first two edges that meet where they should not."""
    n = len(corners)
    sides = [shapely.LineString([corners[i]["at"], corners[(i + 1) % n]["at"]]) for i in range(n)]
    names = [f"{corners[i].get('name')}-{corners[(i + 1) % n].get('name')}" for i in range(n)]
    for i in range(n):
        for j in range(i + 1, n):
            neighbours = j == i + 1 or (i == 0 and j == n - 1)
            meeting = sides[i].intersection(sides[j])
            if meeting.is_empty or (neighbours and meeting.geom_type == "Point"):
                continue
            return names[i], names[j]
    return None


def _edges(values: Entry) -> Iterator[SlabError]:
    names = tuple(corner["name"] for corner in _all(values, "corner") if "name" in corner)
    complete = len(names) == len(_all(values, "corner")) >= 3
    edges = edge_names(names) if complete else {}
    listed = ", ".join(edges.values())

    def pair(entry: Entry) -> frozenset[str] | None:
        ends = {entry.get("from"), entry.get("to")}
        return None if None in ends else frozenset(str(end) for end in ends)

    for entry in _all(values, "edge"):
        ends = pair(entry)
        if ends is None or not complete:
            continue
        for key in ("from", "to"):
            if entry[key] not in names:
                near = suggestion(entry[key], names)
                hint = f"did you mean {near}" if near else f"the corners are {', '.join(names)}"
                yield _wrong(entry, f"there is no corner {entry[key]}", hint, key)
        if ends <= set(names) and ends not in edges:
            text = f"{entry['from']}-{entry['to']} is not an edge of the outline"
            yield _wrong(entry, text, f"the edges are {listed}")
    for _, later in _doubles(_all(values, "edge"), pair):
        yield _wrong(later, f"{later['from']}-{later['to']} is there twice", "take one out")
    design = values.get("design", {})
    toward = design.get("fall_toward")
    drains = [drain["name"] for drain in _all(values, "height") if _is_drain(drain)]
    known = {*names, *drains}
    if toward is not None and complete and toward not in known and frozenset(toward.split("-")) not in edges:
        hint = f"name one of {', '.join([*edges.values(), *names, *drains])}"
        yield _wrong(design, f"{toward} is no edge, corner or drain", hint, "fall_toward")


def _is_drain(height: Entry) -> bool:
    return height.get("kind") is HeightKind.DRAIN and "name" in height


def _levels(values: Entry) -> Iterator[SlabError]:
    stations = _all(values, "station")
    known = {station["name"]: station for station in stations if "name" in station}
    for station in stations:
        if "check_of" not in station:
            continue
        first = known.get(station["check_of"])
        if first is None:
            near = suggestion(station["check_of"], known)
            hint = f"did you mean {near}" if near else "name a station of this book"
            yield _wrong(station, f"there is no station {station['check_of']}", hint, "check_of")
        elif first is station or "check_of" in first:
            yield _wrong(
                station, "repeats a reading that is itself a repeat", "name the first one", "check_of"
            )
        elif "at" not in station:
            if "at" in first:
                station["at"] = first["at"]
        elif "at" in first and math.dist(station["at"], first["at"]) > CHECK_PLACE_MM:
            text = f"lies elsewhere than {station['check_of']}, which it repeats"
            yield _wrong(station, text, "leave its place out or correct it", "at")

    def cell(station: Entry) -> tuple[int, ...] | None:
        if "check_of" in station or "at" not in station:
            return None
        return tuple(round(part / SAME_PLACE_MM) for part in station["at"])

    for first, later in _doubles(stations, cell):
        hint = f'write check_of = "{first.get("name")}" if it repeats that reading, or correct the place'
        yield _wrong(later, f"lies at the same place as station {first.get('name')}", hint, "at")
    rods = [station for station in stations if "rod" in station]
    heights = [station for station in stations if "height" in station]
    if rods and heights:
        fewer, kind = (heights, "height") if len(heights) <= len(rods) else (rods, "rod")
        yield _wrong(
            fewer[0],
            f"gives a {kind} while other stations of the book give the other kind",
            "use rods or heights for all: height = rod at a known point + its height - rod here",
        )


def _flights(values: Entry) -> Iterator[SlabError]:
    risers = [entry for entry in _all(values, "height") if entry.get("flight") is not None]
    for entry in _all(values, "height"):
        if entry.get("kind") is not HeightKind.RISER:
            if "flight" in entry and "kind" in entry:
                yield _wrong(
                    entry, "only a riser belongs to a flight", 'write kind = "riser" or take it out', "flight"
                )
            if "goes" in entry and "kind" in entry:
                yield _wrong(entry, "only steps go up or down", 'write kind = "riser" or take it out', "goes")
        elif "above_slab" in entry and entry["above_slab"].mm <= 0:
            yield _wrong(
                entry,
                "the rise of a riser is not above zero",
                'write its height without a minus, and goes = "down" where the steps go down from the slab',
                "above_slab",
            )
    flights: dict[str, list[Entry]] = {}
    for riser in risers:
        if "order" in riser:
            flights.setdefault(riser["flight"], []).append(riser)
    for flight, members in flights.items():
        doubles = list(_doubles(members, lambda riser: riser["order"]))
        for _, later in doubles:
            text = f'riser {later["order"]} of flight "{flight}" is there twice'
            yield _wrong(later, text, "number the risers 1, 2, 3, ... from the slab outwards", "order")
        ways = [riser.get("goes", Goes.UP) for riser in members]
        if len(set(ways)) > 1:
            odd = members[ways.index(Goes.UP)]
            text = f'flight "{flight}" goes up and down'
            yield _wrong(odd, text, 'write goes = "down" at each of its risers, or at none', "goes")
        orders = {riser["order"] for riser in members}
        gaps = sorted(set(range(1, max(orders) + 1)) - orders)
        if gaps and not doubles:
            text = f'flight "{flight}" has no riser {gaps[0]}'
            yield _wrong(
                members[0], text, 'add it, with above_slab = "unknown" if it was not measured', "order"
            )


def _photos(values: Entry) -> Iterator[SlabError]:
    cracks = {crack["name"] for crack in _all(values, "crack") if "name" in crack}
    photos = _all(values, "photo")
    for first, later in _doubles(photos, lambda photo: photo.get("file")):
        hint = "each photo is entered once: put marks and close-up into one entry"
        yield _wrong(later, f"is the same file as photo {first.get('id')}", hint, "file")
    for photo in photos:
        closeup = photo.get("closeup_of")
        if closeup is not None and closeup not in cracks and "closeup_at" not in photo:
            near = suggestion(closeup, cracks)
            hint = f"did you mean {near}" if near else "write a [[crack]] of that name, or give closeup_at"
            yield _wrong(photo, f"there is no crack {closeup}", hint, "closeup_of")
        marks = {mark["name"] for mark in _all(photo, "marks") if "name" in mark}
        whole = all("name" in mark for mark in _all(photo, "marks"))
        pairs = []
        for distance in _all(photo, "distances"):
            ends = [distance[key] for key in ("from", "to") if key in distance]
            for end in ends:
                if whole and end not in marks:
                    near = suggestion(end, marks)
                    hint = f"did you mean {near}" if near else "mark the point on this photo first"
                    yield _wrong(distance, f"there is no mark {end}", hint)
            if len(ends) == 2:
                if ends[0] == ends[1]:
                    yield _wrong(distance, f"runs from {ends[0]} to itself", "name two marks")
                pairs.append({"ends": frozenset(ends), **distance})
        for _, later in _doubles(pairs, lambda pair: pair["ends"]):
            yield _wrong(later, f"{later['from']} to {later['to']} is there twice", "take one out")


def _joints(values: Entry) -> Iterator[SlabError]:
    for joint in _all(values, "joint"):
        start, end = joint.get("from"), joint.get("to")
        if start and end and math.dist(start, end) < SAME_PLACE_MM:
            yield _wrong(joint, "both ends lie at the same place", "correct one of them")


def _dates(values: Entry, today: dt.date) -> Iterator[SlabError]:
    dated = [values.get("job", {}), *_all(values.get("stops", {}), "cleared"), *_all(values, "crack")]
    for entry in dated:
        if "date" in entry and entry["date"] > today + _DAY:
            yield _wrong(entry, f"{entry['date']} lies in the future", "correct the date", "date")


def _places(values: Entry, outline: shapely.Polygon) -> Iterator[SlabError]:
    """Every place against the outline, all at once."""
    spots: list[tuple[Entry, str, tuple[float, float], float]] = []
    for name, keys, margin_mm in (
        ("joint", ("from", "to"), ON_SLAB_MM),
        ("station", ("at",), ON_SLAB_MM),
        ("fault", ("at",), ON_SLAB_MM),
        ("gap", ("at",), ON_SLAB_MM),
        ("crack", ("at", "line"), ON_SLAB_MM),
        ("area", ("at", "outline"), ON_SLAB_MM),
        ("photo", ("closeup_at",), ON_SLAB_MM),
        ("height", ("at",), BESIDE_SLAB_MM),
        ("sheet", ("at",), BESIDE_SLAB_MM),
    ):
        for entry in _all(values, name):
            for key in keys:
                found = entry.get(key, ())
                points = found if key in ("line", "outline") else (found,) if found else ()
                spots.extend((entry, key, point, margin_mm) for point in points)
    if not spots:
        return
    shapely.prepare(outline)
    away = shapely.distance(outline, shapely.points([spot[2] for spot in spots]))
    system = values.get("job", {}).get("units", UnitSystem.IMPERIAL)
    told: set[tuple[int, str]] = set()
    for (entry, key, _, margin_mm), distance_mm in zip(spots, away, strict=True):
        if distance_mm > margin_mm and (id(entry), key) not in told:
            told.add((id(entry), key))
            text = f"lies {units.format_length(float(distance_mm), system)} outside the slab"
            allowed = units.format_length(margin_mm, system)
            yield _wrong(entry, text, f"correct it or the outline (up to {allowed} outside is taken)", key)


def _area_outlines(values: Entry) -> Iterator[SlabError]:
    for area in _all(values, "area"):
        ring = shapely.Polygon(area["outline"]) if "outline" in area else None
        if ring is not None and (not ring.is_valid or ring.area <= 0):
            yield _wrong(area, "crosses itself or encloses no area", "give its points in order", "outline")


def _files(values: Entry, folder: Path) -> Iterator[SlabError]:
    home = folder.resolve()
    for photo in _all(values, "photo"):
        if "file" not in photo:
            continue
        path = folder / photo["file"]
        try:
            target = path.resolve()
            found = target.is_file()
        except (OSError, RuntimeError, ValueError):
            found = False
            target = path
        if found and not target.is_relative_to(home):
            yield _wrong(photo, f"{photo['file']} leads out of the folder", "copy the photo into it", "file")
        elif not found:
            try:
                there = [other.name for other in path.parent.iterdir()]
            except OSError:
                there = []
            near = suggestion(path.name, there)
            hint = f"did you mean {near}" if near else f"put it into {folder} or correct the name"
            yield _wrong(photo, f"{photo['file']} is not there", hint, "file")
