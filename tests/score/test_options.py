"""The rules as data: strict reading, and every name in them known elsewhere."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyzer import rate
from analyzer.errors import RuleError
from analyzer.rate.limits import QUANTITIES
from analyzer.score.options import DEFAULT_OPTIONS, DEFAULT_WORDS, STOP_IDS, load_options
from analyzer.terms import Option

RULES = load_options()


def test_every_limit_named_in_the_rules_exists() -> None:
    known = {
        limit.limit_id
        for edition in ("IRC 2018", "IRC 2021", "IRC 2024")
        for limit in rate.load_limits(edition)
    }
    assert RULES.limit_ids <= known


def test_every_quantity_named_in_the_rules_exists() -> None:
    own = {"default"}
    assert set(RULES.chance) - own <= set(QUANTITIES)
    assert set(RULES.prior_share) <= set(QUANTITIES)
    assert set(RULES.asks) - {"heights", "use", "cause", "joints", "photo"} <= set(QUANTITIES)


def test_what_a_gate_can_miss_has_a_measurement() -> None:
    limits = rate.load_limits()
    for gate in RULES.gates:
        for limit in gate.limits:
            assert limits[limit].quantity in RULES.asks or gate.exceeds == "cause", limit


def test_all_stops_and_options_are_there() -> None:
    assert tuple(stop.id for stop in RULES.stops) == STOP_IDS
    assert set(RULES.options) == set(Option)
    assert RULES.options[0] is Option.PATCH  # of equals the least work is taken


def test_no_caution_for_open_stops_speaks_of_work() -> None:
    for stop in RULES.stops:
        for verb in ("saw", "core", "drill", "rout", "pour", "remove", "cut "):
            assert f" {verb}" not in f" {stop.look} ".lower()


def test_worse_evidence_never_earns_an_option_points_back() -> None:
    # A panel goes from cracked to settled to broken: what speaks against an option only grows.
    by_fact = {criterion.fact: criterion for criterion in RULES.criteria if criterion.kind == "now"}
    cracked, settled, broken, sound = (
        by_fact[f"{n}_share"].points for n in ("cracked", "settled", "broken", "sound")
    )
    for column, option in enumerate(RULES.options):
        if option is Option.REMOVAL:
            continue
        path = [sound[column], sound[column] + cracked[column], settled[column], broken[column]]
        assert path == sorted(path, reverse=True), option


def changed(tmp_path: Path, source: Path, old: str, new: str) -> Path:
    text = source.read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / source.name
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("[draws]\n", "[draws]\nluck = 1\n", "unknown key 'luck'"),
        ("seed = 20140501\n", "", "seed missing"),
        ('id = "post_tension"', 'id = "tension"', "the stops are not the eight"),
        ('order = ["patch", ', 'order = ["patch", "patch", ', "order does not hold every option once"),
        ('scope = "panel"', 'scope = "street"', "scope is 'street'"),
        ('["rocking"],', '["shaking"],', "not made of panel signals"),
        ('fact = "sound_share"', 'fact = "nice_share"', "unknown fact 'nice_share'"),
        ('missing = "blocks"', 'missing = "passes"', "missing is 'passes'"),
        ('"removal" = -35 }', '"demolition" = -35 }', "unknown key 'demolition'"),
        ("max = 0.15", "max = 1.5", "outside 0 to 1"),
        ("default = 0.30", "default = 1.30", "a chance not between 0 and 1"),
        ('id = "hollow"\n', 'id = "hollow"\nid2 = 1\n', "unknown key 'id2'"),
        ('id = "rocking"', 'id = "fragmented"', "appears twice"),
        ('kind = "cures"\n', 'kind = "cures"\nfact = "always"\n', "needs a fact when it is about now"),
        ("format = 1", "format = 7", "this version reads format 1"),
        ("format = 1", "format 1", "is not valid TOML"),
    ],
)
def test_malformed_rules_are_refused(tmp_path: Path, old: str, new: str, told: str) -> None:
    with pytest.raises(RuleError, match=told):
        load_options(changed(tmp_path, DEFAULT_OPTIONS, old, new))


def test_malformed_words_are_refused(tmp_path: Path) -> None:
    with pytest.raises(RuleError, match="effort missing"):
        load_options(words=changed(tmp_path, DEFAULT_WORDS, 'effort = "2 minutes"\n', ""))
    with pytest.raises(RuleError, match="unknown option"):
        load_options(
            words=changed(tmp_path, DEFAULT_WORDS, 'options = ["removal"]', 'options = ["demolition"]')
        )
    with pytest.raises(RuleError, match="cannot be read"):
        load_options(tmp_path / "none.toml")


def test_rule_files_are_named_with_their_hash() -> None:
    assert [name for name, _ in RULES.sha256] == ["options.toml", "words.toml", "causes.toml"]
    assert all(len(digest) == 64 for _, digest in RULES.sha256)


def test_a_worse_state_of_a_panel_never_costs_an_option_less() -> None:
    # A panel holds one state at a time, so a panel that gets worse moves from one line to the next:
    # the next must weigh at least as much against keeping the slab.
    rules = load_options()
    points = {
        c.fact: dict(zip(rules.options, c.points, strict=True)) for c in rules.criteria if c.kind == "now"
    }
    for option in rules.options:
        if str(option) == "removal":
            continue
        assert (
            points["broken_share"][option]
            <= points["settled_share"][option]
            <= points["cracked_share"][option]
        )
