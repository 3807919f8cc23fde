"""Tables of sentences: every language has the same keys and fills the same names."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyzer.errors import RuleError
from analyzer.phrase_tables import LANGUAGES, load_phrases, names_in, read_texts

ENGLISH = 'format = 1\n[kind]\n"door sill" = "sill"\n[say]\nlow = "{name} lies {depth} low"\n'
TABLES = sorted((Path(__file__).resolve().parent.parent / "analyzer").rglob("phrases*.toml"))


def _tables(folder: Path, spanish: str) -> Path:
    path = folder / "phrases.toml"
    path.write_text(ENGLISH, encoding="utf-8")
    (folder / "phrases.es.toml").write_text(spanish, encoding="utf-8")
    return path


def test_fills_the_names_in_each_language(tmp_path: Path) -> None:
    spanish = 'format = 1\nkind."door sill" = "umbral"\nsay.low = "{name} está {depth} más abajo"\n'
    path = _tables(tmp_path, spanish)
    assert load_phrases(path)("say.low", name="P1", depth="3 mm") == "P1 lies 3 mm low"
    told = load_phrases(path, "es")
    assert told("say.low", name="P1", depth="3 mm") == "P1 está 3 mm más abajo"
    assert told.word("kind", "door sill") == "umbral"
    assert told.word("kind", "wall") == "wall"
    assert told.of("kind") == {"door sill": "umbral"}


@pytest.mark.parametrize(
    ("spanish", "says"),
    [
        ('format = 1\nsay.low = "{name} {depth}"\n', "'kind.door sill' is missing"),
        ('format = 1\nkind."door sill" = "a"\nsay.low = "{name}"\n', "does not fill the same names"),
        (
            'format = 1\nkind."door sill" = "a"\nkind.b = "b"\nsay.low = "{name} {depth}"',
            "unknown text 'kind.b'",
        ),
        ('format = 1\nkind."door sill" = 3\n', "is no text"),
        ('format = 2\nkind."door sill" = "a"\n', "another format"),
        ("kind = [", "not valid TOML"),
    ],
)  # fmt: skip
def test_refuses_a_table_that_differs(tmp_path: Path, spanish: str, says: str) -> None:
    path = _tables(tmp_path, spanish)
    with pytest.raises(RuleError, match=says):
        load_phrases(path, "es")


def test_refuses_a_language_nobody_wrote(tmp_path: Path) -> None:
    with pytest.raises(RuleError, match="no language 'fr'"):
        load_phrases(_tables(tmp_path, "format = 1\n"), "fr")
    with pytest.raises(RuleError, match="cannot be read"):
        load_phrases(tmp_path / "none.toml")


@pytest.mark.parametrize("path", [p for p in TABLES if ".es" not in p.name], ids=lambda p: p.parent.name)
def test_shipped_tables_have_every_language(path: Path) -> None:
    english = load_phrases(path)
    for language in LANGUAGES:
        told = load_phrases(path, language)
        assert told.texts.keys() == english.texts.keys()
        for key, text in english.texts.items():
            assert names_in(told.texts[key]) == names_in(text)


def test_no_english_text_stands_in_a_spanish_table() -> None:
    spanish = [p for p in TABLES if ".es" in p.name]
    assert spanish
    for path in spanish:
        for key, text in read_texts(path)[0].items():
            words = set(text.casefold().replace(",", " ").split())
            assert not words & {"the", "and", "of", "is", "not", "was", "with", "slab", "over"}, key
