"""The shipped limits load, and a faulty file is refused."""

import re
from importlib import resources

import pytest

from analyzer.calibrate.limits import parse_limits, scale_limits
from analyzer.errors import RuleError

TEXT = resources.files("analyzer.calibrate").joinpath("limits.toml").read_text(encoding="utf-8")


def test_shipped_limits_give_every_entry_a_reason() -> None:
    limits = scale_limits()
    assert limits.scale_u_greatest == 0.05
    assert all(len(reason) > 20 for reason in re.findall(r'reason = "(.*)"', TEXT))


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("[tape_u]", "[tape_uu]", "unknown entry 'tape_uu'"),
        ('checked = "from memory"', 'checked = "hearsay"', "no known word"),
        ("value = 0.05", "value = -0.05", "not a positive number"),
        ("value = 0.05", 'value = "0.05"', "not a positive number"),
        ("value = 0.05\n", "", "needs value, unit, reason"),
        ("[tape_u]", "[tape_u", "not TOML"),
    ],
)
def test_faulty_limits_are_refused(old: str, new: str, says: str) -> None:
    with pytest.raises(RuleError, match=re.escape(says)):
        parse_limits(TEXT.replace(old, new, 1) if "value" not in old else TEXT.replace(old, new))


def test_a_missing_entry_is_named() -> None:
    cut = TEXT[: TEXT.index("[trusted_share_least]")]
    with pytest.raises(RuleError, match="trusted_share_least"):
        parse_limits(cut)
