"""What to do with each panel, and the cautions that go with it."""

from __future__ import annotations

from dataclasses import replace

from invented_slab import PANEL_IDS, Slab, answers, area, clearance, crack

from analyzer.records import Fault
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
    assert "lead" in " ".join(worn.told(coating=Answer.YES).rank().cautions)
    assert "termite" not in overlay
    low = (*Slab().clearances, clearance(HeightKind.WEEP_SCREED, "wall", 5.5))
    assert "termite" in " ".join(replace(worn, clearances=low).rank().cautions)


def test_an_open_stop_leaves_only_the_warning_to_leave_it() -> None:
    told = replace(Slab(), stops=answers(void_below=Answer.UNKNOWN)).rank().cautions
    assert len(told) == 1
    assert "leave the slab as it is" in told[0]
    assert Option.REMOVAL not in told[0]
