"""Published schema and reader accept and refuse the same documents (general library: jsonschema)."""

import copy
import datetime as dt
import tomllib
from collections.abc import Callable, Iterator
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.acquire import field_book_schema, parse_field_book
from analyzer.acquire.tables import BOOK
from analyzer.acquire.walk import read_table
from analyzer.errors import SlabError

SCHEMA = field_book_schema()
VALIDATOR = jsonschema.Draft202012Validator(
    SCHEMA, format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
)


def as_json(value: Any) -> Any:
    """A TOML document as JSON has it: dates become strings."""
    if isinstance(value, dict):
        return {key: as_json(part) for key, part in value.items()}
    if isinstance(value, list):
        return [as_json(part) for part in value]
    return value.isoformat() if isinstance(value, dt.date | dt.datetime | dt.time) else value


def reader_takes(raw: dict[str, Any]) -> bool:
    """Whether the reader finds nothing wrong with the form (references are not looked at)."""
    problems: list[SlabError] = []
    read_table(BOOK, raw, "book", problems)
    return not problems


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_the_example_is_valid(example: str) -> None:
    VALIDATOR.validate(as_json(tomllib.loads(example)))


def test_every_key_is_described_with_an_example() -> None:
    def described(schema: dict[str, Any]) -> Iterator[str]:
        for name, part in schema.get("properties", {}).items():
            inner = part.get("items", part)
            if "properties" in inner:
                yield from described(inner)
            else:
                assert part["description"], name
                assert part["examples"], name
                yield name

    assert len(list(described(SCHEMA))) > 100


# Each line: what stands in the example, and what is written instead. Both must refuse it.
WRONG_FORM = [
    ("schema = 1", ""),
    ("schema = 1", "schema = 2"),
    ("schema = 1", 'schema = "1"'),
    ("[job]", "[jobs]"),
    ('title = "Walk', 'titel = "Walk'),
    ('title = "Walk from the lane to the chapel door"', 'title = " "'),
    ('id = "chapel-walk"', 'id = "chapel walk"'),
    ('id = "chapel-walk"', 'id = "../chapel"'),
    ("date = 2025-04-12", "date = 2025-04-12T08:00:00"),
    ("date = 2025-04-12", 'date = "12 April"'),
    ("date = 2025-04-12", 'date = "2025-02-30"'),
    ('surface = "dry"', 'surface = "moist"'),
    ("invented = true", 'invented = "yes"'),
    ('use = "foot"', 'use = "feet"'),
    ('public_route = "no"', "public_route = false"),
    ('suspended = "no"', 'suspended = "maybe"'),
    ('stop = "carries_posts"', 'stop = "posts"'),
    ("date = 2025-04-14\n", ""),
    ('thickness = "4 in +- 1/4 in"', "thickness = 4"),
    ('thickness = "4 in +- 1/4 in"', 'thickness = "4"'),
    ('thickness = "4 in +- 1/4 in"', 'thickness = "-4 in"'),
    ('thickness = "4 in +- 1/4 in"', 'thickness = "4 inn"'),
    ('thickness = "4 in +- 1/4 in"', 'thickness = "nan in"'),
    ('thickness = "4 in +- 1/4 in"', 'thickness = "4 in +- -1/4 in"'),
    ('thickness = "4 in +- 1/4 in"', 'thikness = "4 in"'),
    ("age_years = 38", "age_years = -1"),
    ("age_years = 38", 'age_years = "38"'),
    ("rocking_panels = []", 'rocking_panels = "none"'),
    ("rocking_panels = []", 'rocking_panels = ["panel 2"]'),
    ('name = "B"', 'name = "A-B"'),
    ('name = "B"', "name = 2"),
    ('at = ["5 ft", "0 ft"]', 'at = ["5 ft"]'),
    ('at = ["5 ft", "0 ft"]', "at = [5, 0]"),
    ('at = ["5 ft", "0 ft"]', 'at = ["5\'13\\"", "0 ft"]'),
    ('at = ["5 ft", "0 ft"]', 'at = "A"'),
    ('abuts = "house"', 'abuts = "church"'),
    ('support = "full"', 'support = "fully"'),
    ('from = "H"\nto = "C"', 'from = "H"'),
    ('kind = "contraction"', 'kind = "cold"'),
    ("number = 1", "number = 5"),
    ("number = 1", "number = 1.5"),
    ('file = "photos/overview.jpg"', 'file = "../overview.jpg"'),
    ('file = "photos/overview.jpg"', 'file = "/overview.jpg"'),
    ("markers = true", 'markers = "true"'),
    ("px = [412.5, 2630]", "px = [412.5]"),
    ("px = [412.5, 2630]", 'px = ["412", "2630"]'),
    ("px = [412.5, 2630]", "px = [-1, 2630]"),
    ('distance = "9 ft 5 1/4 in +- 1/4 in"', 'dist = "9 ft"'),
    ('rod = "47 in +- 1/16 in"', ""),
    ('rod = "47 in +- 1/16 in"', 'rod = "47 in"\nheight = "1 in"'),
    ('check_of = "S1"', ""),
    ('step = "3/16 in +- 1/32 in"', ""),
    ('straightedge = "10 ft"', 'straightedge = "10 foots"'),
    ('panel = "P2"', 'panel = "2"'),
    ('[["0 ft", "12 ft"], ["2 ft 6 in", "12 ft 3 in"], ["5 ft", "12 ft 6 in"]]', '[["0 ft", "12 ft"]]'),
    ('kind = "scaling"', 'kind = "scale"'),
    ('area = "6 ft2"', 'area = "6 ft"'),
    ('kind = "door sill"', 'kind = "door_sill"'),
    ("order = 2", ""),
    ('flight = "side steps"\norder = 2', "order = 2"),
    ("order = 2", 'order = "2"'),
    ('fall = "1/4 in/ft"', "fall = 0.02"),
    ('waste = "8 %"', "waste = 8"),
    ('plant_step = "0.25 yd3"', 'plant_step = "0.25 yd"'),
    ("[design]", "[[design]]"),
    ("[[gap]]", "[gap]"),
]

# Both must take these.
RIGHT_FORM = [
    ('at = ["5 ft", "0 ft"]', 'at = ["5 ft", 0]'),
    ('at = ["5 ft", "0 ft"]', 'at = ["5 ft", "0"]'),
    ('step = "3/16 in +- 1/32 in"', "step = 0"),
    ('suspended = "no"', 'suspended = "No"'),
    ('suspended = "no"', 'suspended = "don\'t know"'),
    ('weather = "overcast, 54 F"', 'weather = "unknown"'),
    ('use = "foot"', 'use = "unknown"'),
    ('units = "imperial"', 'units = "unknown"'),
    ("invented = true", 'invented = "unknown"'),
    ("age_years = 38", 'age_years = "unknown"'),
    ('thickness = "4 in +- 1/4 in"', 'thickness = "unknown"'),
    ("rocking_panels = []", 'rocking_panels = "unknown"'),
    ("date = 2025-04-12", 'date = "2025-04-12"'),
    ('thickness = "4 in +- 1/4 in"', "thickness = '4⅛″ ± 3 mm'"),
    ('above_slab = "9 in"', 'above_slab = "unknown"'),
    ("number = 1", "number = 1.0"),
    ('area = "6 ft2"', 'area = "unknown"'),
    ('fall = "1/4 in/ft"', 'fall = "1:48"'),
]


@pytest.mark.parametrize(("old", "new"), WRONG_FORM)
def test_what_is_wrong_for_the_one_is_wrong_for_the_other(
    edited: Callable[..., str], old: str, new: str
) -> None:
    text = edited(old, new)
    assert not VALIDATOR.is_valid(as_json(tomllib.loads(text)))
    with pytest.raises(SlabError) as caught:
        parse_field_book(text, "book.toml")
    sentence = str(caught.value)
    assert sentence.startswith("book.toml")
    assert sentence.endswith(".")
    assert "\n" not in sentence


@pytest.mark.parametrize(("old", "new"), RIGHT_FORM)
def test_what_is_right_for_the_one_is_right_for_the_other(
    edited: Callable[..., str], old: str, new: str
) -> None:
    text = edited(old, new)
    VALIDATOR.validate(as_json(tomllib.loads(text)))
    parse_field_book(text)


def paths(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if path:
        yield path
    parts = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, part in parts:
        yield from paths(part, (*path, key))


WORDS = st.sampled_from(
    ["unknown", "yes", "3 in", "-3 in", "A", "P1", "2 %", "6 ft2", "house", "", "x", "2025-04-12",
     0, 1, 2.5, -1, True, [], {}, ["1 ft", "2 ft"], [1, 2], [{}], dt.date(2025, 4, 12)]
)  # fmt: skip


@settings(max_examples=120)
@given(data=st.data())
def test_random_edits_are_judged_alike(data: st.DataObject, example: str) -> None:
    raw = tomllib.loads(example)
    for _ in range(data.draw(st.integers(1, 2))):
        path = data.draw(st.sampled_from(list(paths(raw))))
        holder = raw
        for step in path[:-1]:
            holder = holder[step]
        action = data.draw(st.sampled_from(["replace", "replace", "drop", "add"]))
        if action == "drop":
            del holder[path[-1]]
        elif action == "add" and isinstance(holder, dict):
            keys = ["at", "name", "from", "rod", "flight", "panel", "nonsense", "marks", "date"]
            holder[data.draw(st.sampled_from(keys))] = copy.deepcopy(data.draw(WORDS))
        else:
            holder[path[-1]] = copy.deepcopy(data.draw(WORDS))
        if not raw:
            break
    assert reader_takes(raw) == VALIDATOR.is_valid(as_json(raw)), raw


def test_a_length_that_must_not_be_zero_is_for_the_reader_alone(edited: Callable[..., str]) -> None:
    # The limit of the schema, stated in its $comment.
    text = edited('straightedge = "10 ft"', 'straightedge = "0 ft"')
    VALIDATOR.validate(as_json(tomllib.loads(text)))
    with pytest.raises(SlabError, match="is zero"):
        parse_field_book(text)
