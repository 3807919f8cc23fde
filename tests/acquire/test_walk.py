"""Walking the tables: every problem is found, each with its place and what to do."""

import pytest

from analyzer.acquire.tables import BOOK
from analyzer.acquire.walk import WHERE, read_table, resolve_places
from analyzer.errors import SlabError


def read(raw: dict[str, object]) -> tuple[dict[str, object], list[str]]:
    problems: list[SlabError] = []
    values = read_table(BOOK, raw, "book.toml", problems)
    return values, [str(problem) for problem in problems]


def test_all_problems_of_all_tables_are_collected() -> None:
    _, problems = read(
        {"schema": 1, "job": {"id": "a b"}, "corner": [{"name": "A"}], "slab": {"thicknes": "4 in"}}
    )
    joined = "\n".join(problems)
    for words in (
        "book.toml, [job], id: ",
        "book.toml, [job]: has no title",
        "book.toml, [job]: has no date; add date = 2025-04-12",
        "book.toml: has 1 [[corner]] instead of 3 or more",
        "book.toml, corner A: has no at",
        "book.toml, [slab]: unknown key thicknes; did you mean thickness.",
    ):
        assert words in joined
    assert len(problems) == 7


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        ({"site": {"thickness": "4 in"}}, "[site]: unknown key thickness; it belongs to [slab]"),
        ({"slab": {"station": []}}, "open it with its own line [station] or [[station]]"),
        ({"zzz": 1}, "unknown key zzz; take it out or use one of schema, job"),
        ({"stations": []}, "unknown key stations; did you mean station"),
        ({"station": {}}, "station is not a list of entries; open each with a line [[station]]"),
        ({"station": [1]}, "open each with a line [[station]]"),
        ({"site": []}, "site is not a table; write it as a line [site]"),
        ({"stops": {"cleared": {}}}, "open each with a line [[stops.cleared]]"),
        ({"photo": [{"id": "p", "file": "p.jpg", "marks": 3}]}, "photo p: photo.marks is not a list"),
        ({"station": [{"name": "S1", "at": "A"}]}, "station S1: has neither rod nor height"),
        ({"station": [{"name": "S1", "rod": "1 in"}]}, "station S1: has neither at nor check_of"),
        ({"station": [{"name": "S1", "at": "A", "rod": "1 in", "height": "1 in"}]}, "has both rod"),
        ({"height": [{"kind": "riser", "name": "x", "at": "A", "order": 1}]}, "no flight; give flight and"),
        ({"fault": [{"step": "1/8 in", "at": "A"}, {"at": "A"}]}, "fault no. 2: has no step"),
        (
            {"height": [{"kind": "door sill", "name": "x", "at": "A", "height": "5 in"}]},
            "height x: unknown key height; did you mean above_slab.",
        ),
        ({"gap": [{"at": "A", "straightedge": "10 ft", "depth": "1 in"}]}, "key depth; did you mean gap."),
        ({"edge": [{"form": "A", "to": "B"}]}, "unknown key form; did you mean from."),
        ({"sheet": [{"number": 2, "at": "A", "ruler": "0 mm"}]}, "sheet 2, ruler: "),
    ],
)  # fmt: skip
def test_each_problem_says_where_what_and_what_to_do(raw: dict[str, object], words: str) -> None:
    assert any(words in problem for problem in read(raw)[1])


def test_missing_and_unknown_are_not_there() -> None:
    values, problems = read({"slab": {"thickness": "unknown", "age_years": "unknown", "sounded": "unknown"}})
    slab = values["slab"]
    assert isinstance(slab, dict)
    assert set(slab) == {WHERE}
    assert not any("[slab]" in problem for problem in problems)


def test_places_by_corner_names() -> None:
    values, _ = read(
        {
            "fault": [{"at": "A", "step": "1 in"}, {"at": "Q", "step": "1 in"}, {"at": "B", "step": "1 in"}],
            "crack": [{"name": "C1", "line": ["A", ["1 m", "-2 m"]]}],
            "photo": [{"id": "p", "file": "p.jpg", "marks": [{"name": "m", "px": [1, 2], "at": "A"}]}],
        }
    )
    problems: list[SlabError] = []
    resolve_places(BOOK, values, {"A": (3.0, 4.0), "B": None}, problems)
    faults = values["fault"]
    assert isinstance(faults, list)
    assert faults[0]["at"] == (3.0, 4.0)
    # An unknown name is a problem; a corner whose own place was wrong has been told already.
    assert "at" not in faults[1]
    assert "at" not in faults[2]
    assert [str(problem) for problem in problems] == [
        'book.toml, fault no. 2, at: "Q" is not a corner of the outline; the corners are A, B.'
    ]
    assert values["crack"][0]["line"] == ((3.0, 4.0), (1000.0, -2000.0))  # type: ignore[index]
    assert values["photo"][0]["marks"][0]["at"] == (3.0, 4.0)  # type: ignore[index]
