"""The table of limits: strict reading, editions, local files, and each limit at its own value.

The numbers themselves are held in tests/test_published_values.py.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from invented_slab import Slab

from analyzer.errors import ManyProblems, RuleError
from analyzer.rate.hold import Known, Scope, hold
from analyzer.rate.limits import DEFAULT_PATH, QUANTITIES, Dimension, load_limits
from analyzer.terms import Checked, Distress, Verdict
from analyzer.units import MM_PER_FT, MM_PER_IN, MM_PER_M

TABLE = load_limits()
TO_MM = {"mm": 1.0, "cm": 10.0, "m": MM_PER_M, "in": MM_PER_IN, "ft": MM_PER_FT}
TO_SLOPE = {"percent": 0.01, "in/ft": 1 / 12, "rise/run": 1.0}


def inside(value: float, limit) -> float:  # type: ignore[no-untyped-def]
    """A number in the limit's unit as the package holds it."""
    dimension = QUANTITIES[limit.quantity]
    if dimension is Dimension.LENGTH:
        return value * TO_MM[limit.unit]
    return value * TO_SLOPE[limit.unit] if dimension is Dimension.SLOPE else value


@pytest.mark.parametrize("limit", TABLE.limits, ids=lambda limit: limit.limit_id)
def test_just_below_at_and_above_every_limit(limit) -> None:  # type: ignore[no-untyped-def]
    scope = Scope(TABLE, Slab(site=Slab().site).field())
    step = 1e-4 * max(1.0, abs(limit.value))
    seen = {}
    for name, value in (("below", limit.value - step), ("at", limit.value), ("above", limit.value + step)):
        found = [
            f
            for f in hold(scope, limit.quantity, "s", "w", Known(inside(value, limit)), term=limit.term)
            if f.limit.limit_id == limit.limit_id
        ]
        if not found:
            assert set(limit.applies_to) == {"public route"}  # the invented slab is private
            return
        seen[name] = found[0].verdict
        assert found[0].unit == limit.unit
        assert found[0].value == pytest.approx(value, rel=1e-12, abs=1e-12)
    over, under = Verdict.EXCEEDS, Verdict.WITHIN
    expected = {
        ">": (under, under, over),
        ">=": (under, over, over),
        "<": (over, under, under),
        "<=": (over, over, under),
    }[limit.comparator]
    assert (seen["below"], seen["at"], seen["above"]) == expected


def test_every_limit_is_cited() -> None:
    assert len(TABLE) > 60
    for limit in TABLE:
        assert limit.source
        if limit.checked in (Checked.READ, Checked.READ_QUOTED, Checked.MEMORY):
            assert limit.edition not in ("", "-")
            assert limit.section not in ("", "-")
        else:
            assert limit.source in ("judgement of this tool", "common practice, no source")
            assert limit.note
        # Checked from memory means nobody may print "verified against".
        assert "verified" not in (limit.note + limit.source).lower()


def test_distress_terms_are_words_of_the_trade() -> None:
    words = {str(word) for word in Distress}
    own = {"missing joint", "unseen area", "thickness", "slope", "flatness", "ponding", "movement", "riser"}
    other = {"door sill", "weep screed", "siding", "garage floor", "free edge", "drain", "gate"}
    options = {"overlay, bonded", "overlay, unbonded", "removal", "reinforcement corrosion"}
    assert {limit.term for limit in TABLE} <= words | own | other | options


def test_editions_renumber_the_stairs() -> None:
    # The 2024 residential code moved stairs from R311.7 to R318.7 (read as quoted).
    assert load_limits("IRC 2021")["IRC-RISER.height"].section == "R311.7.5.1"
    assert load_limits("IRC 2024")["IRC-RISER.height"].section == "R318.7.5.1"
    assert load_limits("IRC 2024")["IRC-R401-3"].section == "R401.3"
    assert load_limits("IRC 2024")["IRC-RISER.height"].edition == "IRC 2024"
    with pytest.raises(RuleError, match="'IRC 1999' is not a known edition"):
        load_limits("IRC 1999")


def changed(tmp_path: Path, old: str, new: str) -> Path:
    text = DEFAULT_PATH.read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "limits.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("value = 3\n", "value = 3\ncolour = 1\n", "unknown key 'colour'"),
        ("value = 3\n", "value = nan\n", "is not a number"),
        ("value = 3\n", 'value = "3 0/0"\n', "is not a number"),
        ('unit = "mm"\n', 'unit = "percent"\n', "unit 'percent' is unknown"),
        ('comparator = ">="\n', 'comparator = "over"\n', "comparator 'over' is unknown"),
        ('section = "ch. 2, transverse cracking"\n', 'section = ""\n', "section missing"),
        ('checked = "from memory"\n', 'checked = "verified"\n', "checked 'verified' is unknown"),
        ('quantity = "crack_width"\n', 'quantity = "crack_depth"\n', "unknown quantity 'crack_depth'"),
        ('applies_to = ["road pavement"]\n', 'applies_to = ["roads"]\n', "applies_to 'roads' is unknown"),
        (
            'id = "LTPP-JCP-TRANSVERSE.width-high"',
            'id = "LTPP-JCP-TRANSVERSE.width-moderate"',
            "the id appears twice",
        ),
        ('"IRC 2024" = "R318.7.5.1" }', '"IRC 2027" = "R318.7.5.1" }', "section is not given for exactly"),
        ("format = 1", "format = 2", "this version reads format 1"),
        ("format = 1", "format = 1\nshape = 2", "unknown key 'shape'"),
        ("[editions]", "[editions", "is not valid TOML"),
    ],
)
def test_malformed_tables_are_refused(tmp_path: Path, old: str, new: str, told: str) -> None:
    with pytest.raises(RuleError, match=told.replace(".", r"\.")):
        load_limits(path=changed(tmp_path, old, new))


def test_several_problems_are_told_at_once(tmp_path: Path) -> None:
    path = changed(tmp_path, "value = 3\n", 'value = "x"\n')
    path.write_text(path.read_text().replace("value = 6\n", 'value = "y"\n', 1))
    with pytest.raises(ManyProblems) as caught:
        load_limits(path=path)
    assert len(caught.value.problems) == 2


def test_missing_file_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(RuleError, match="cannot be read"):
        load_limits(path=tmp_path / "none.toml")


LOCAL = """
jurisdiction = "Invented County"
[[limit]]
id = "IRC-WEEP"
value = {value}
source = "Invented county code"
edition = "2023"
section = "12.4"
checked = "read"
"""


def test_local_limits_tighten_and_loosen(tmp_path: Path) -> None:
    path = tmp_path / "local.toml"
    path.write_text(LOCAL.format(value=4))
    table = load_limits(local=path)
    assert (table["IRC-WEEP"].value, table["IRC-WEEP"].local) == (4.0, True)
    assert table.loosened == ()
    assert table.jurisdiction == "Invented County"
    assert [name for name, _ in table.sha256] == ["limits.toml", "local.toml"]
    path.write_text(LOCAL.format(value=1))
    assert [limit.limit_id for limit in load_limits(local=path).loosened] == ["IRC-WEEP"]


def test_loosening_is_told_for_upper_limits_too(tmp_path: Path) -> None:
    path = tmp_path / "local.toml"
    path.write_text(LOCAL.replace("IRC-WEEP", "IRC-RISER.height").format(value='"8 1/4"'))
    assert [limit.value for limit in load_limits(local=path).loosened] == [8.25]
    # A limit that guards neither people nor the building may be set freely.
    path.write_text(LOCAL.replace("IRC-WEEP", "JOINT-ASPECT").format(value=2))
    assert load_limits(local=path).loosened == ()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (LOCAL.format(value=4).replace('jurisdiction = "Invented County"', ""), "jurisdiction is missing"),
        (LOCAL.format(value=4).replace("IRC-WEEP", "IRC-WEEEP"), "no such limit to replace"),
        (LOCAL.format(value=4).replace('section = "12.4"', ""), "section missing"),
        (LOCAL.format(value=4) + 'comparator = ">"\n', "unknown key 'comparator'"),
        (LOCAL.format(value=4) + 'unit = "mm"\n', "unit 'mm' differs"),
        (LOCAL.format(value=4) + LOCAL.format(value=5).split("\n", 2)[2], "the id appears twice"),
    ],
)
def test_malformed_local_files_are_refused(tmp_path: Path, text: str, told: str) -> None:
    path = tmp_path / "local.toml"
    path.write_text(text)
    with pytest.raises(RuleError, match=told):
        load_limits(local=path)


def test_numbers_as_sources_print_them() -> None:
    assert TABLE["IRC-RISER.height"].value == 7.75
    assert TABLE["ADA-404-2-4-4"].value == pytest.approx(1 / 48, rel=1e-15)
    assert math.isclose(TABLE["PDR-THIRD"].value, 1 / 3)
