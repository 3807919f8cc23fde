"""Everyday words lead to words that the form has; which ones people use: common practice, no source."""

import tomllib
from pathlib import Path

import pytest

from analyzer.acquire import synonyms
from analyzer.acquire.kinds import Word
from analyzer.acquire.tables import BOOK
from analyzer.terms import Abuts, Distress, HeightKind

DATA = tomllib.loads(Path(synonyms.__file__).with_name("synonyms.toml").read_text("utf-8"))
TABLES = {table.name: table for table in BOOK.tables}
WORDS = {
    str(word)
    for table in BOOK.tables
    for key in table.keys
    if isinstance(key.kind, Word)
    for word in key.kind.words
}


@pytest.mark.parametrize("table", list(DATA["keys"]))
def test_every_key_leads_to_one_of_its_table(table: str) -> None:
    for word, meant in DATA["keys"][table].items():
        assert word not in TABLES[table].names
        assert meant
        assert set(meant) <= set(TABLES[table].names)


def test_every_word_leads_to_one_of_a_list() -> None:
    for word, meant in DATA["words"].items():
        assert word == word.casefold()
        assert meant
        assert set(meant) <= WORDS, word


def test_only_a_key_that_is_still_free_is_meant() -> None:
    assert synonyms.meant_key("height", "Height", ("above_slab", "flight")) == "above_slab"
    assert synonyms.meant_key("height", "height", ("flight",)) is None
    assert synonyms.meant_key("nowhere", "height", ("above_slab",)) is None


def test_the_same_word_means_what_fits_the_list() -> None:
    assert synonyms.meant_word("hollow  Spot", Distress) == "hollow-sounding area"
    assert synonyms.meant_word("steps", HeightKind) == "riser"
    assert synonyms.meant_word("steps", Abuts) == "step"
    assert synonyms.meant_word("steps", Distress) is None
