"""The blank form holds every key, and reads once what must be filled in is filled in."""

import re
import tomllib
from collections.abc import Iterator

import pytest

from analyzer.acquire import blank_field_book, parse_field_book
from analyzer.acquire.form import Table
from analyzer.acquire.tables import BOOK
from analyzer.errors import ManyProblems
from analyzer.records import DesignChoices, SiteUse, SlabFacts, StopAnswers
from analyzer.terms import Wetness

FILLED = {
    'id = ""': 'id = "one"',
    'title = ""': 'title = "A made-up slab"',
    'date = ""': "date = 2025-04-12",
    'by = ""': 'by = "M. Example"',
}
CORNERS = [("A", "0 ft", "0 ft"), ("B", "10 ft", "0 ft"), ("C", "10 ft", "8 ft"), ("D", "0", "8 ft")]


def filled() -> str:
    text = blank_field_book()
    for old, new in FILLED.items():
        assert text.count(old) == 1
        text = text.replace(old, new)
    for name, x, y in CORNERS:
        text = text.replace('name = ""', f'name = "{name}"', 1).replace(
            'at = ["", ""]', f'at = ["{x}", "{y}"]', 1
        )
    assert '""' not in text
    return text


def test_it_reads_when_what_must_be_there_is_filled_in() -> None:
    book = parse_field_book(filled())
    assert [corner.name for corner in book.outline] == ["A", "B", "C", "D"]
    # Nothing that was not filled in is taken for known.
    assert book.site == SiteUse()
    assert book.stops == StopAnswers()
    assert book.slab == SlabFacts()
    assert book.design == DesignChoices()
    assert book.job.surface is Wetness.UNKNOWN
    assert {book.photos, book.stations, book.cracks, book.heights, book.sheets} == {()}


def test_left_blank_it_asks_for_what_must_be_there() -> None:
    with pytest.raises(ManyProblems) as caught:
        parse_field_book(blank_field_book())
    subjects = [problem.subject for problem in caught.value.problems]
    for key in ("id", "title", "date", "by"):
        assert f"field book, [job], {key}" in subjects
    assert sum("corner" in subject for subject in subjects) == 8
    assert len(subjects) == 12


def test_four_corners_stand_ready_and_three_are_enough() -> None:
    text = filled()
    assert text.count("\n[[corner]]\n") == 4
    three = text[: text.rindex("[[corner]]")] + text[text.rindex("[[corner]]") :].split("\n\n", 1)[1]
    assert len(parse_field_book(three).outline) == 3


def test_it_says_how_panels_are_numbered() -> None:
    head = blank_field_book().split("schema = ")[0]
    assert "from the house outwards" in head
    assert "left to right" in head


def tables(outer: Table, path: str = "") -> Iterator[tuple[Table, str]]:
    for table in outer.tables:
        yield table, f"{path}{table.name}"
        yield from tables(table, f"{path}{table.name}.")


@pytest.mark.parametrize(("table", "path"), list(tables(BOOK)), ids=lambda part: str(part)[:20])
def test_every_key_is_in_it(table: Table, path: str) -> None:
    heading = f"[[{path}]]" if table.many else f"[{path}]"
    lines = blank_field_book().splitlines()
    start = next(i for i, line in enumerate(lines) if line.removeprefix("# ") == heading)
    part = lines[start:]
    part = part[: part.index("")] if "" in part else part
    for key in table.keys:
        assert any(re.match(rf"(?:# )?{key.name} = ", line) for line in part), key.name


def test_repeated_tables_read_when_uncommented(tmp_path) -> None:  # type: ignore[no-untyped-def]
    text = filled()
    for heading, old, new in [
        ("[[joint]]", 'from = ["0 ft", "5 ft"]', 'from = ["5 ft", "1 ft"]'),
        ("[[fault]]", "", ""),
        ("[[gap]]", "", ""),
        ("[[crack]]", "", ""),
        ("[[height]]", 'kind = "door sill"', 'kind = "riser"'),
        ("[[sheet]]", "", ""),
    ]:
        start = text.index(f"# {heading}")
        end = text.find("\n\n", start)
        block = text[start : end if end > 0 else len(text)]
        opened = "\n".join(
            line[2:] if re.match(r"# (\[\[|\w+ = )", line) else line for line in block.splitlines()
        )
        if old:
            assert old in opened
        text = text.replace(block, opened.replace(old, new) if old else opened)
    text = text.replace('["2 ft", "3 ft 6 in"]', '["7 ft", "2 ft"]')
    text = text.replace(
        '[["0 ft", "2 ft"], ["5 ft", "2 ft 6 in"]]', '[["4 ft", "2 ft"], ["5 ft", "2 ft 6 in"]]'
    )
    text = text.replace('to = ["5 ft", "5 ft"]', 'to = ["8 ft", "5 ft"]')
    tomllib.loads(text)
    book = parse_field_book(text)
    assert [len(part) for part in (book.joints, book.faults, book.gaps, book.cracks, book.heights)] == [1] * 5
