"""The field book's tables and keys: the one list from which reader, schema and blank form are made.

Every key says the attribute of the record it fills. A new question is one more line here and one
more field there.
"""

from __future__ import annotations

from analyzer import records
from analyzer.acquire.form import Key, Table
from analyzer.acquire.kinds import (
    CORNER_NAME,
    POINT,
    Day,
    Flag,
    Length,
    ListOf,
    Number,
    Pattern,
    PicturePoint,
    Place,
    Quantity,
    Text,
    Word,
)
from analyzer.terms import (
    Abuts,
    Answer,
    Distress,
    Goes,
    HeightKind,
    JointKind,
    Support,
    UnitSystem,
    Use,
    Wetness,
)

SCHEMA_VERSION = 1
STOPS = (
    "suspended",
    "post_tension",
    "void_below",
    "carries_posts",
    "carries_walls",
    "heating_tubes",
    "foundation_movement",
    "retaining_wall_movement",
)


_NAME = Pattern(
    "^[A-Za-z0-9][A-Za-z0-9_.-]*$", "use letters, digits, dots, hyphens and underscores, without blanks", 40
)
_PANEL = Pattern(
    "^P[1-9][0-9]{0,3}$",
    "panels are numbered P1, P2, ... by the tool; see them in the report or leave it out and give a place",
)
_FILE = Pattern(
    r"^(?![/~]|[A-Za-z]:)(?!(?:.*/)?\.\.(?:/|$))[^\\\x00-\x1f]*[^\\\x00-\x1f/]$",
    "name a file inside the field book's own folder with / between folders, without .. and without a drive; "
    "copy it there first",
    240,
)
_ANSWER = Word(tuple(Answer))
_READING = Length()
_MEASURE = Length(positive=True)
_PLACE = Place()
_POINT_EXAMPLE = '["2 ft", "3 ft 6 in"]'
_LINE = ListOf(_PLACE, 2, 500, '[["0 ft", "2 ft"], ["5 ft", "2 ft 6 in"]]')
_RING = ListOf(_PLACE, 3, 500, '[["1 ft", "1 ft"], ["2 ft", "1 ft"], ["2 ft", "2 ft"]]')


def _answer(name: str, question: str) -> Key:
    return Key(name, _ANSWER, question, '"unknown"')


def _at(
    doc: str, example: str = _POINT_EXAMPLE, *, required: bool = True, name: str = "at", field: str = "at_mm"
) -> Key:
    return Key(name, _PLACE, doc, example, required, unknown=False, field=field)


_JOB = Table(
    "job",
    "Who, what, when.",
    (
        Key("id", _NAME, "short name of the job, used for its folder", '"chapel-walk"', True, field="job_id"),
        Key("title", Text(), "what the slab is", '"Walk to the chapel door"', True),
        Key("date", Day(), "day of the visit", "2025-04-12", True),
        Key("by", Text(), "who took the readings", '"M. Example"', True),
        Key("surface", Word(tuple(Wetness)), "surface at the visit", '"dry"'),
        Key("weather", Text(), "weather at the visit", '"overcast, 54 F"'),
        Key("units", Word(tuple(UnitSystem)), "how the report writes lengths", '"imperial"'),
        Key("invented", Flag(), "true for a demonstration that never was", "false"),
        Key("notes", Text(4000), "anything else", '"Walk swept before the photos."'),
    ),
    record=records.JobHead,
)
_SITE = Table(
    "site",
    "Use and exposure.",
    (
        Key("use", Word(tuple(Use)), "heaviest regular traffic", '"foot"'),
        _answer("public_route", "is it a route open to the public"),
        _answer("freeze_thaw", "does it freeze and thaw when wet"),
        _answer("deicer", "are de-icing salts used"),
    ),
    record=records.SiteUse,
)
_STOPS = Table(
    "stops",
    "Questions that come before any advice. An unknown answer stops advice as a bad one does.",
    (
        _answer("suspended", "does it span over air instead of lying on ground"),
        _answer("post_tension", "are there stressed tendons in it"),
        _answer("void_below", "is there a hollow, vault, tank or cellar below"),
        _answer("carries_posts", "do posts or columns stand on it"),
        _answer("carries_walls", "do walls stand on it"),
        _answer("heating_tubes", "are there heating tubes or cables in it"),
        _answer("foundation_movement", "are there signs that the building's foundation moves"),
        _answer("retaining_wall_movement", "are there signs that a retaining wall moves"),
    ),
    record=records.StopAnswers,
    tables=(
        Table(
            "cleared",
            "What an engineer or other licensed person said about one of these questions.",
            (
                Key("stop", Word(STOPS), "which question", '"carries_posts"', True),
                Key("who", Text(), "who said it, with the licence", '"R. Example, engineer"', True),
                Key("date", Day(), "when", "2025-04-14", True),
                Key("says", Text(1000), "what was said", '"The post has its own footing."', True),
            ),
            many=True,
            label="stop",
            record=records.Clearing,
        ),
    ),
)
_SLAB = Table(
    "slab",
    "What is known of the slab as a whole.",
    (
        Key("thickness", _MEASURE, "thickness seen at an edge or in a hole", '"4 in +- 1/4 in"'),
        Key("age_years", Number(0, 300), "age in years", "38"),
        _answer("pours_of_different_dates", "was it poured at different times"),
        _answer("reinforced", "is there steel in it"),
        _answer("seasonal_movement", "does it move with the seasons"),
        _answer("still_moving", "does it still settle or move"),
        Key(
            "rocking_panels", ListOf(_PANEL, example='["P2"]'),
            "panels that rock underfoot; [] after trying all and finding none", '["P2"]',
        ),
        _answer("ponding_seen", "does water stand on it"),
        Key("ponding_depth", _READING, "deepest standing water", '"3/8 in"'),
        _answer("drains_toward_house", "does water run towards the building"),
        _answer("coating", "is it painted, sealed or coated"),
        _answer("tree_roots", "are tree roots lifting it"),
        _answer("expansive_ground", "is the ground known to swell and shrink"),
        _answer("rust_stains", "are there rust stains from steel inside"),
        _answer("sounded", "was all of it sounded with chain or hammer"),
        _answer("walked_over", "was all distress that can be seen written down"),
        _answer("heights_listed", "are all doors, steps, siding, drains, gates and walks beside it listed"),
        _answer("white_deposits", "are there white or glassy deposits in map cracks"),
    ),
    record=records.SlabFacts,
)  # fmt: skip
_CORNER = Table(
    "corner",
    "Corners of the slab in order, either way round. Plan: seen from above, x to the right, y up.",
    (
        Key("name", CORNER_NAME, "name on the sketch", '"A"', True),
        Key("at", POINT, "[x, y]", '["0 ft", "0 ft"]', True),
    ),
    many=True,
    minimum=3,
    label="name",
    record=records.Corner,
)
_EDGE = Table(
    "edge",
    "What lies beside an edge, from one corner to the next. Edges left out are unknown.",
    (
        Key("from", CORNER_NAME, "one corner", '"A"', True, field="start"),
        Key("to", CORNER_NAME, "the next corner", '"B"', True, field="end"),
        Key("abuts", Word(tuple(Abuts)), "what it lies against", '"house"'),
        Key("support", Word(tuple(Support)), "ground under the edge, seen from the side", '"full"'),
    ),
    many=True,
    record=records.EdgeEntry,
)
_JOINT = Table(
    "joint",
    "Joints drawn on the sketch; they replace those found on photos.",
    (
        Key("name", _NAME, "name on the sketch", '"J1"', True),
        _at("one end", '["0 ft", "5 ft"]', name="from", field="start_mm"),
        _at("the other end", '["5 ft", "5 ft"]', name="to", field="end_mm"),
        Key("kind", Word(tuple(JointKind)), "kind of joint", '"contraction"'),
    ),
    many=True,
    label="name",
    record=records.JointEntry,
)
_SHEET = Table(
    "sheet",
    "Where a printed marker sheet lay.",
    (
        Key("number", Number(1, 4, whole=True), "the number printed on it", "1", True),
        _at("its centre cross", field="centre_mm"),
        Key(
            "at_within", Length(positive=True, plain=True),
            "how far off that place may be", '"1/2 in"', field="centre_u_mm",
        ),
        Key(
            "turned_deg", Number(-360, 360),
            "angle from plan x to the sheet's bottom edge, anticlockwise", "0",
        ),
        Key("ruler", _MEASURE, "its printed 100 mm ruler, measured with a tape", '"99.5 mm +- 0.5 mm"'),
    ),
    many=True,
    label="number",
    record=records.SheetEntry,
)  # fmt: skip
_PHOTO = Table(
    "photo",
    "One photo and how it is scaled.",
    (
        Key("id", _NAME, "name of the photo in the report", '"overview"', True, field="photo_id"),
        Key("file", _FILE, "file inside the field book's folder", '"photos/overview.jpg"', True),
        Key("straight_down", Flag(), "true if the camera looked straight down", "false"),
        Key("markers", Flag(), "false: do not look for printed sheets", "true"),
        Key("closeup_of", _NAME, "crack whose width this close-up shows", '"C1"'),
        _at("where that close-up was taken", required=False, name="closeup_at", field="closeup_at_mm"),
    ),
    many=True,
    label="id",
    record=records.PhotoEntry,
    tables=(
        Table(
            "marks",
            "Points marked on the upright photo above.",
            (
                Key("name", _NAME, "name of the mark", '"m1"', True),
                Key(
                    "px", PicturePoint(),
                    "[x, y] as a viewer shows it: pixels from the left, from the top; kept as (row, col)",
                    "[812, 1440]", True,
                ),
                _at("its place in plan, if known", required=False, field="plan_mm"),
            ),
            many=True,
            label="name",
            record=records.PhotoMark,
        ),
        Table(
            "distances",
            "Tape distances between two marks of the photo above.",
            (
                Key("from", _NAME, "one mark", '"m1"', True, field="first"),
                Key("to", _NAME, "the other mark", '"m2"', True, field="second"),
                Key("distance", _MEASURE, "by tape", '"9 ft 5 1/4 in +- 1/4 in"', True),
            ),
            many=True,
            record=records.MarkDistance,
        ),
    ),
)  # fmt: skip
_STATION = Table(
    "station",
    "Level readings: rods (grow downwards) or heights (grow upwards), one kind for the whole book.",
    (
        Key("name", _NAME, "name on the sketch", '"S1"', True, field="station_id"),
        _at("its place; not needed with check_of", required=False, field=""),
        Key("rod", _READING, "rod reading, or else:", '"41 3/8 in +- 1/16 in"', unknown=False),
        Key("height", Length(signed=True), "height over the job's datum", '"-1 1/2 in"', unknown=False),
        Key("check_of", _NAME, "the station that this reading repeats", '"S1"', unknown=False),
    ),
    many=True,
    label="name",
    record=records.StationReading,
    exactly_one=(("rod", "height"),),
    any_of=(("at", "check_of"),),
)
_FAULT = Table(
    "fault",
    "A step across a joint or crack.",
    (
        _at("where"),
        Key("step", _READING, "height of the step", '"3/16 in +- 1/32 in"', True),
        Key("along", _NAME, "joint or crack", '"J2"'),
    ),
    many=True,
    record=records.FaultEntry,
)
_GAP = Table(
    "gap",
    "The largest gap under a straightedge.",
    (
        _at("where"),
        Key("gap", _READING, "the gap", '"1/4 in"', True),
        Key("straightedge", _MEASURE, "length of the straightedge", '"10 ft"', True),
    ),
    many=True,
    record=records.GapEntry,
)
_CRACK = Table(
    "crack",
    "A crack as written down; a gauge reading outranks the photo.",
    (
        Key("name", _NAME, "name on the sketch", '"C1"', True),
        Key("panel", _PANEL, "panel, as the tool numbers them", '"P2"'),
        _at("a point on it", required=False),
        Key("line", _LINE, "its course", _LINE.example, unknown=False, field="line_mm"),
        Key("length", _MEASURE, "length", '"5 ft +- 1 in"'),
        Key("width", _READING, "width by crack gauge", '"0.8 mm +- 0.1 mm"'),
        _answer("through", "does it go through the slab"),
        _answer("moving", "does it open and close"),
        _answer("corner", "does it cut off a corner"),
        _answer("splits_panel", "does it split the panel"),
        Key("date", Day(), "when it was read", "2025-04-12"),
    ),
    many=True,
    label="name",
    record=records.CrackEntry,
)
_AREA = Table(
    "area",
    "Spalling, scaling, hollow-sounding, map cracking and other distress by area.",
    (
        Key("kind", Word(tuple(Distress)), "kind of distress", '"scaling"', True),
        Key("panel", _PANEL, "panel, as the tool numbers them", '"P1"'),
        _at("where", required=False),
        Key("area", Quantity("an area"), "area", '"6 ft2"', field="area_mm2"),
        Key("depth", _READING, "depth", '"1/8 in +- 1/16 in"'),
        Key("outline", _RING, "its outline", _RING.example, unknown=False, field="outline_mm"),
    ),
    many=True,
    record=records.AreaEntry,
)
_HEIGHT = Table(
    "height",
    "Something whose height over the slab limits what can be poured.",
    (
        Key("kind", Word(tuple(HeightKind)), "what it is", '"door sill"', True),
        Key("name", Text(60), "which one", '"chapel door"', True),
        _at("where, on the slab or within 6 ft of it"),
        Key(
            "above_slab", Length(signed=True),
            "over the slab, below it with a minus; of a riser its rise", '"5 3/4 in +- 1/8 in"',
        ),
        Key("flight", Text(60), "flight of steps that a riser belongs to", '"side steps"', unknown=False),
        Key("order", Number(1, 100, whole=True), "1 at the slab, then outwards", "1", unknown=False),
        Key(
            "goes", Word(tuple(Goes)),
            "of a riser: do the steps go up or down from the slab; left out, up", '"up"', unknown=False,
        ),
        _answer("egress_door", "is it a required way out"),
        _answer("swings_over", "does a door or gate swing over the slab"),
    ),
    many=True,
    label="name",
    record=records.HeightEntry,
    together=(("flight", "order"),),
)  # fmt: skip
_DESIGN = Table(
    "design",
    "What is chosen for the new work; left out, the tool's cited defaults hold.",
    (
        Key("fall", Quantity("a slope"), "fall of the finished surface", '"1/4 in/ft"'),
        Key("fall_toward", Text(60), "edge, corner or drain that it falls towards", '"A-B"'),
        Key("overlay_min", _MEASURE, "least thickness of an overlay", '"3 in"'),
        Key("replacement_thickness", _MEASURE, "thickness of a new slab", '"4 in"'),
        Key("waste", Quantity("a percentage"), "added to the order", '"8 %"', field="waste_fraction"),
        Key(
            "plant_step", Quantity("a volume"),
            "step of the plant's order", '"0.25 yd3"', field="plant_step_m3",
        ),
    ),
    record=records.DesignChoices,
)  # fmt: skip

BOOK = Table(
    "field book",
    "Field book of one slab: what was read with tape, level, gauge and camera.",
    (
        Key(
            "schema",
            Number(SCHEMA_VERSION, SCHEMA_VERSION, whole=True),
            "version of this form",
            str(SCHEMA_VERSION),
            True,
        ),
    ),
    tables=(
        _JOB, _SITE, _STOPS, _SLAB, _CORNER, _EDGE, _JOINT, _SHEET, _PHOTO, _STATION,
        _FAULT, _GAP, _CRACK, _AREA, _HEIGHT, _DESIGN,
    ),
)  # fmt: skip
