"""One name for one thing."""

from enum import StrEnum

from analyzer import terms

ENUMS = [
    v for v in vars(terms).values() if isinstance(v, type) and issubclass(v, StrEnum) and v is not StrEnum
]


def test_every_word_stands_once_in_its_list_and_has_a_source_or_meaning() -> None:
    assert len(ENUMS) >= 18
    for enum in ENUMS:
        assert enum.__doc__, enum
        values = [str(m) for m in enum]
        assert len(values) == len(set(values))


def test_distress_words_of_the_manual() -> None:
    # FHWA-HRT-13-092 (2014) ch. 2: names from memory; that these are recorded was read (its Table 2).
    words = {str(d) for d in terms.Distress}
    assert {
        "corner break",
        "durability cracking",
        "longitudinal cracking",
        "transverse cracking",
        "map cracking",
        "scaling",
        "popouts",
        "faulting",
        "joint seal damage",
    } <= words


def test_joint_types_of_the_trade() -> None:
    # NRMCA CIP 6 (read): contraction, isolation, construction joints.
    assert {str(k) for k in terms.JointKind} == {"contraction", "construction", "isolation", "unknown"}


def test_unknown_is_not_no() -> None:
    assert terms.Answer.UNKNOWN != terms.Answer.NO
