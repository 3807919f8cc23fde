"""What to do with each panel, and the cautions that go with it."""

from __future__ import annotations

from dataclasses import replace

from invented_slab import PANEL_IDS, Slab, answers, area, clearance, crack

from analyzer.records import Fault
from analyzer.score import load_options, rank_options
from analyzer.terms import Answer, Distress, HeightKind, Option


def actions(slab: Slab) -> dict[str, str]:
    return {action.panel_id: action.action for action in slab.rank().panel_actions}


def test_one_bad_panel_among_good_ones() -> None:
    slab = replace(
        Slab(),
        cracks=(crack("C1", "P5", 9.0), crack("C2", "P5", 8.0), crack("C3", "P1", 0.5)),
        pieces={**Slab().pieces, "P5": 4},
        settlement_in={**Slab().settlement_in, "P5": 1.2},
    )
    assert actions(slab) == {
        "P1": "seal",
        "P2": "leave",
        "P3": "leave",
        "P4": "leave",
        "P5": "replace",
        "P6": "leave",
    }
    why = next(a.reason for a in slab.rank().panel_actions if a.panel_id == "P5")
    assert "pieces: 4" in why


def test_a_settled_panel_is_lifted_if_it_is_in_two_pieces_at_most() -> None:
    # MODOT-JACK-LIMIT (read): more than two pieces is normally replaced instead.
    settled = replace(Slab(), settlement_in={**Slab().settlement_in, "P2": 1.0})
    assert actions(settled)["P2"] == "lift"
    assert actions(replace(settled, pieces={**Slab().pieces, "P2": 2}))["P2"] == "lift"
    assert actions(replace(settled, pieces={**Slab().pieces, "P2": 3}))["P2"] == "replace"
    tripping = replace(Slab(), faults=(Fault((0.0, 0.0), 15.0, 0.3, "J1", ("P4",)),))
    assert actions(tripping)["P4"] == "grind"
    # Both together: the lift takes the edge out as well.
    both = replace(tripping, settlement_in={**Slab().settlement_in, "P4": 1.0})
    assert actions(both)["P4"] == "lift"


def test_spots_are_repaired() -> None:
    slab = replace(Slab(), areas=(*Slab().areas, area(Distress.SPALLING, 0.01, "P3")))
    assert actions(slab)["P3"] == "repair"
    corner = replace(Slab(), cracks=(crack("C1", "P3", 1.0, distress=Distress.CORNER_BREAK),))
    assert actions(corner)["P3"] == "repair"


def test_a_corner_written_down_as_broken_is_rebuilt_and_told() -> None:
    # FHWA, Full-Depth Repairs, Table 1 (read): any corner break is taken out, drawn as a crack or not.
    slab = replace(Slab(), areas=(*Slab().areas, area(Distress.CORNER_BREAK, 0.004, "P4")))
    action = next(a for a in slab.rank().panel_actions if a.panel_id == "P4")
    assert (action.action, action.reason) == ("repair", "Corner broken off panel P4.")
    assert action.finding_ids == ("FHWA-FDR-TABLE1.corner-break@corner break 2",)
    told = " ".join(r.sentence for r in slab.rank().reasons_for + slab.rank().reasons_against)
    assert "a corner is broken off in 1 panel (P4)" in told
    assert "a corner broken off: 1 of 6 panels" in told
    # A crack of 4 mm in another panel makes two.
    both = replace(slab, cracks=(crack("C1", "P3", 4.0),)).rank()
    assert any("2 of 6 panels" in r.sentence for r in both.reasons_against)


def test_a_panel_tells_what_exceeds_a_limit_and_what_is_worn() -> None:
    # Panel proportions over 1.5 (JOINT-ASPECT, read) ask for no work and are told all the same.
    slab = replace(Slab(), areas=(*Slab().areas, area(Distress.MAP_CRACKING, 0.1, "P1")))
    long = next(f for f in Slab().findings() if f.limit.limit_id == "JOINT-ASPECT" and f.subject == "P2")
    findings = [
        f if f is not long and f.finding_id != long.finding_id else long.moved(1.71) for f in slab.findings()
    ]
    case = slab.field(), slab.distress(), slab.layout(), slab.levels(), slab.plans(), load_options()
    told = {a.panel_id: a for a in rank_options(findings, *case, what_if=False).panel_actions}
    assert told["P1"].reason.startswith("Map cracking: ")
    assert told["P2"].finding_ids == (long.finding_id,)
    assert told["P2"].reason.startswith("Panel P2, long side over short side")
    assert told["P3"].reason == "Nothing was found at P3 by the readings there are."


def test_a_crack_of_unknown_width_is_not_called_fine() -> None:
    wide = crack("C1", "P1", None, width_upper_mm=4.0)
    fine = crack("C2", "P2", None, width_upper_mm=0.6)
    told = {a.panel_id: a.reason for a in replace(Slab(), cracks=(wide, fine)).rank().panel_actions}
    assert "unknown or too close to call" in told["P1"]
    assert told["P2"] == "1 crack, narrower than 1/8 in (3 mm)."


def test_an_overlay_covers_all_and_removal_takes_all() -> None:
    worn = replace(Slab(), areas=(*Slab().areas, area(Distress.SCALING, 0.5)))
    assert actions(worn) == dict.fromkeys(PANEL_IDS, "overlay")
    # A scaled spot goes with the preparation of the surface; a hollow one is taken out first.
    spots = (area(Distress.SCALING, 0.1, "P1"), area(Distress.HOLLOW_SOUNDING, 0.01, "P2"))
    both = actions(replace(worn, areas=(area(Distress.SCALING, 0.4), *spots)))
    assert (both["P1"], both["P2"]) == ("overlay", "repair and overlay")
    gone = replace(Slab(), pieces=dict.fromkeys(PANEL_IDS, 6))
    assert actions(gone) == dict.fromkeys(PANEL_IDS, "remove")


def test_cautions_belong_to_the_option() -> None:
    worn = replace(Slab(), areas=(*Slab().areas, area(Distress.SCALING, 0.5)))
    overlay, patch = " ".join(worn.rank().cautions), " ".join(Slab().rank().cautions)
    assert "permit" in overlay
    assert "Wet concrete burns" in overlay
    assert "permit" not in patch
    gone = " ".join(replace(Slab(), pieces=dict.fromkeys(PANEL_IDS, 6)).rank().cautions)
    assert "811" in gone
    assert "811" not in patch
    assert "lead" not in overlay
    coated = " ".join(worn.told(coating=Answer.YES).rank().cautions)
    assert "The slab is coated. Paint from before 1978 can hold lead" in coated
    # LEAD, from memory (40 CFR 745): a question that nobody answered is no coating.
    unsaid = " ".join(worn.told(coating=Answer.UNKNOWN).rank().cautions)
    assert "Not known whether the slab is painted or coated. If it is, paint" in unsaid
    assert "The slab is coated" not in unsaid
    assert "termite" not in overlay
    low = (*Slab().clearances, clearance(HeightKind.WEEP_SCREED, "wall", 5.5))
    assert "termite" in " ".join(replace(worn, clearances=low).rank().cautions)


def test_an_open_stop_leaves_only_the_warning_to_leave_it() -> None:
    told = replace(Slab(), stops=answers(void_below=Answer.UNKNOWN)).rank().cautions
    assert len(told) == 1
    assert "leave the slab as it is" in told[0]
    assert Option.REMOVAL not in told[0]
