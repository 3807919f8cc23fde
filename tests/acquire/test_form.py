"""The shape of tables: what is required, how entries are called."""

from analyzer.acquire.form import Key, Table
from analyzer.acquire.kinds import Text

MUST = Key("a", Text(), "a thing", '"x"', required=True)
MAY = Key("b", Text(), "another", '"y"')


def test_required_tables() -> None:
    assert Table("one", "A table.", (MUST, MAY)).required
    assert not Table("one", "A table.", (MAY,)).required
    assert not Table("one", "Entries.", (MUST,), many=True).required
    assert Table("one", "Entries.", (MUST,), many=True, minimum=3).required


def test_names_and_nouns() -> None:
    inner = Table("marks", "Marks.", (MUST,), many=True)
    outer = Table("photo", "Photos.", (MUST, MAY), many=True, tables=(inner,))
    assert outer.names == ("a", "b", "marks")
    assert (inner.noun, outer.noun) == ("mark", "photo")
    assert (outer.heading, Table("job", "Job.", (MUST,)).heading) == ("[[photo]]", "[job]")


def test_a_required_key_is_never_unknown() -> None:
    assert MAY.takes_unknown
    assert not MUST.takes_unknown
    assert not Key("c", Text(), "a", '"x"', unknown=False).takes_unknown
