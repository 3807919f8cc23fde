"""Checks between entries: each wrong book is refused with its place, and only the reader can tell."""

import datetime as dt
import tomllib
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest
from PIL import Image

from analyzer.acquire import field_book_schema, parse_field_book, read_field_book
from analyzer.errors import FieldBookError, ManyProblems, SlabError
from analyzer.terms import Goes

TODAY = dt.date(2025, 5, 1)
VALIDATOR = jsonschema.Draft202012Validator(field_book_schema())


def without_dates(raw: object) -> object:
    if isinstance(raw, dict):
        return {key: without_dates(part) for key, part in raw.items()}
    if isinstance(raw, list):
        return [without_dates(part) for part in raw]
    return str(raw) if isinstance(raw, dt.date) else raw


# What stands in the example, what is written instead, and what the message must say.
WRONG_SENSE = [
    # names
    ('name = "S3"', 'name = "S2"', "station S2: there are two of that name"),
    ('name = "S3"', 'name = "s2"', "station s2: there are two of that name"),
    ('name = "C2"', 'name = "C1"', "crack C1: there are two of that name"),
    ('name = "J2"', 'name = "J1"', "joint J1: there are two of that name"),
    ('id = "landing"', 'id = "overview"', "photo overview: there are two of that id"),
    ("number = 2", "number = 1", "sheet 1: there are two of that number"),
    ('name = "m2"', 'name = "m1"', "mark m1: there are two of that name"),
    ('name = "lane walk"', 'name = "chapel door"', "height chapel door: there are two of that name"),
    ('file = "photos/landing.jpg"', 'file = "photos/overview.jpg"', "is the same file as photo overview"),
    # references
    ('check_of = "S1"', 'check_of = "S11"', "there is no station S11; did you mean S1"),
    ('check_of = "S1"', 'check_of = "S1-again"', "repeats a reading that is itself a repeat"),
    ('check_of = "S1"', 'check_of = "S1"\nat = "A"', "lies elsewhere than S1, which it repeats"),
    ('"C1"\ncloseup_at = ["2 ft 6 in", "12 ft 3 in"]', '"K9"', "there is no crack K9; write a [[crack]]"),
    ('from = "m1"\nto = "m3"', 'from = "m1"\nto = "x9"', "there is no mark x9"),
    ('from = "m1"\nto = "m3"', 'from = "m1"\nto = "m1"', "runs from m1 to itself"),
    ('at = "F"', 'at = "J"', '"J" is not a corner of the outline'),
    ('from = "E"\nto = "F"', 'from = "E"\nto = "A"', "E-A is not an edge of the outline; the edges are A-B"),
    ('from = "E"\nto = "F"', 'from = "E"\nto = "Q"', "there is no corner Q"),
    ('from = "E"\nto = "F"', 'from = "B"\nto = "A"', "A-B is there twice"),
    ('fall_toward = "A-B"', 'fall_toward = "A-C"', "[design], fall_toward: A-C is no edge, corner or drain"),
    # places
    ('at = ["6 in", "12 ft"]', 'at = ["-3 in", "12 ft"]', "station S5, at: lies 3\" outside the slab"),
    ('at = ["4 ft 8 in", "18 ft 8 in"]', 'at = ["8 ft", "18 ft"]', "crack C2, at: lies"),
    ('["5 ft", "12 ft 6 in"]]', '["9 ft", "12 ft 6 in"]]', "crack C1, line: lies 4' outside"),
    ('at = ["2 ft 6 in", "24 ft"]', 'at = ["2 ft 6 in", "31 ft"]', "height chapel door, at: lies 7' outside"),
    ('at = ["4 ft 6 in", "10 ft"]', 'at = ["4 ft 6 in", "-1 m"]', "fault no. 1, at: lies"),
    ('["2 ft", "7 ft"], ["1 ft", "7 ft"]', '["1 ft", "7 ft"], ["2 ft", "7 ft"]', "no. 2, outline: crosses"),
    ('to = ["5 ft", "5 ft"]', 'to = ["0 ft", "5 ft"]', "joint J1: both ends lie at the same place"),
    ('at = ["4 ft 6 in", "12 ft"]', 'at = ["6 in", "12 ft"]', 'write check_of = "S5" if it repeats'),
    # outline
    ('at = ["5 ft", "19 ft"]', 'at = ["-1 ft", "19 ft"]', "outline: edges B-C and"),
    ('at = ["5 ft", "0 ft"]', 'at = ["0 ft", "0 ft"]', "corner B, at: lies at the same place as corner A"),
    # levels
    ('rod = "47 in +- 1/16 in"', 'height = "-6 in"', "station S9: gives a height while other stations"),
    # steps
    ("order = 2", "order = 1", 'riser 1 of flight "side steps" is there twice'),
    ("order = 2", "order = 3", 'flight "side steps" has no riser 2'),
    ('above_slab = "7 in +- 1/16 in"', 'above_slab = "-7 in"', "the rise of a riser is not above zero"),
    ('above_slab = "7 in +- 1/16 in"', 'above_slab = "-7 in"', 'without a minus, and goes = "down" where'),
    (
        "order = 2",
        'order = 2\ngoes = "down"',
        'height side step, lower, goes: flight "side steps" goes up and',
    ),
    ('above_slab = "9 in"', 'above_slab = "9 in"\ngoes = "down"', "only steps go up or down"),
    ('above_slab = "9 in"', 'above_slab = "9 in"\nflight = "f"\norder = 1', "only a riser belongs to a"),
    # dates
    ("date = 2025-04-12\nby", "date = 2025-05-03\nby", "[job], date: 2025-05-03 lies in the future"),
    ("date = 2025-04-14", "date = 2052-04-14", "cleared carries_posts, date: 2052-04-14 lies in the future"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "words"), WRONG_SENSE)
def test_one_wrong_thing_is_one_sentence(edited: Callable[..., str], old: str, new: str, words: str) -> None:
    text = edited(old, new)
    with pytest.raises(SlabError) as caught:
        parse_field_book(text, "book.toml", today=TODAY)
    assert words in str(caught.value)
    # The limit of the schema: it cannot see this, which is why the reader must.
    assert VALIDATOR.is_valid(without_dates(tomllib.loads(text)))


def test_the_example_itself_is_right(example: str) -> None:
    assert parse_field_book(example, today=TODAY).job.invented


def test_tomorrow_is_not_the_future(edited: Callable[..., str]) -> None:
    parse_field_book(edited("date = 2025-04-12\nby", "date = 2025-05-02\nby"), today=TODAY)


def test_a_reading_on_the_edge_and_a_finger_outside_is_taken(edited: Callable[..., str]) -> None:
    for x in ("0 in", "-2 in"):
        parse_field_book(edited('at = ["6 in", "12 ft"]', f'at = ["{x}", "12 ft"]'), today=TODAY)


def test_a_closeup_of_a_crack_that_only_the_photo_shows(edited: Callable[..., str]) -> None:
    book = parse_field_book(edited('closeup_of = "C1"', 'closeup_of = "K9"'), today=TODAY)
    assert book.photos[2].closeup_at_mm == (762.0, 3733.8)  # 2 ft 6 in, 12 ft 3 in


def test_a_riser_that_was_not_measured_keeps_its_place(edited: Callable[..., str]) -> None:
    old, new = 'above_slab = "6 7/8 in +- 1/16 in"', 'above_slab = "unknown"'
    riser = parse_field_book(edited(old, new), today=TODAY).heights[3]
    assert (riser.above_slab, riser.order) == (None, 1)


def test_steps_go_up_unless_the_book_says_down(example: str) -> None:
    # The meaning is the form's own: a rise is written above zero either way.
    ways = {h.name: (h.goes, h.above_slab and h.above_slab.mm > 0) for h in parse_field_book(example).heights}
    assert ways["side step, upper"] == (Goes.UP, True)
    assert ways["step down to the yard"] == (Goes.DOWN, True)


@pytest.mark.parametrize(
    "places",
    [
        [(0, 0), (10, 10), (10, 0), (0, 10)],  # a bow tie
        [(0, 0), (10, 0), (20, 0)],  # no area
        [(0, 0), (10, 0), (10, 10), (10, 4)],  # back along an edge
        [(0, 0), (10, 0), (5, 0), (5, 10)],  # an edge upon an edge
        [(0, 0), (4, 0), (4, 4), (0, 4), (4, 2)],  # a corner upon an edge
    ],
)
def test_outlines_that_are_none(example: str, places: list[tuple[int, int]]) -> None:
    head = example[: example.index("[[corner]]")]
    corners = "".join(
        f'[[corner]]\nname = "{chr(65 + k)}"\nat = ["{x} ft", "{y} ft"]\n' for k, (x, y) in enumerate(places)
    )
    with pytest.raises(
        FieldBookError, match=r"outline: (edges [A-E]-[A-E] and [A-E]-[A-E] cross|the corners)"
    ):
        parse_field_book(head + corners, today=TODAY)


def test_many_problems_are_told_together(edited: Callable[..., str]) -> None:
    text = edited('name = "S3"', 'name = "S2"', "order = 2", "order = 1", "age_years = 38", "age_years = nan")
    with pytest.raises(ManyProblems) as caught:
        parse_field_book(text, "book.toml", today=TODAY)
    assert len(caught.value.problems) == 3
    for words in ("station S2", "flight", "age_years"):
        assert words in str(caught.value)


def test_one_wrong_corner_does_not_set_off_the_rest(edited: Callable[..., str]) -> None:
    with pytest.raises(SlabError) as caught:
        parse_field_book(edited('at = ["-1 ft 6 in", "24 ft"]', 'at = ["-1 ft 13 in", "24 ft"]'), today=TODAY)
    assert not isinstance(caught.value, ManyProblems)
    assert "corner F, at: '-1 ft 13 in' has 12 or more inches" in str(caught.value)


# ---- files -----------------------------------------------------------------------------------


def lay_out(folder: Path, text: str) -> Path:
    (folder / "photos").mkdir()
    for name in ("overview", "landing", "crack_c1"):
        Image.new("RGB", (64, 64)).save(folder / "photos" / f"{name}.jpg")
    book = folder / "field_book.toml"
    book.write_text(text, "utf-8")
    return book


def test_photos_are_looked_for_beside_the_book(tmp_path: Path, example: str) -> None:
    book = lay_out(tmp_path, example)
    assert len(read_field_book(book, today=TODAY).photos) == 3
    (tmp_path / "photos" / "overview.jpg").rename(tmp_path / "photos" / "overveiw.jpg")
    (tmp_path / "photos" / "landing.jpg").unlink()
    with pytest.raises(ManyProblems) as caught:
        read_field_book(book, today=TODAY)
    assert "photo overview, file: photos/overview.jpg is not there; did you mean overveiw.jpg" in str(
        caught.value
    )
    assert "photo landing, file: photos/landing.jpg is not there" in str(caught.value)
    # What was typed can be decided on without them.
    assert len(read_field_book(book, need_photos=False, today=TODAY).photos) == 3


def test_a_link_that_leads_out_of_the_folder_is_refused(tmp_path: Path, example: str) -> None:
    (tmp_path / "job").mkdir()
    book = lay_out(tmp_path / "job", example)
    Image.new("RGB", (64, 64)).save(tmp_path / "elsewhere.jpg")
    target = tmp_path / "job" / "photos" / "landing.jpg"
    target.unlink()
    try:
        target.symlink_to(tmp_path / "elsewhere.jpg")
    except OSError:
        pytest.skip("this system makes no symbolic links")
    with pytest.raises(FieldBookError, match="leads out of the folder"):
        read_field_book(book, today=TODAY)
