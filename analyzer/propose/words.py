"""Plans in words: what conflicts, what would have to give, what follows, what was left open."""

from __future__ import annotations

from analyzer.propose.requirements import Requirement
from analyzer.propose.site import Site
from analyzer.propose.solve import single_relaxations
from analyzer.records import ClearanceAfter, Float, GradePlan
from analyzer.terms import Abuts, Answer, HeightKind

NO_ROOM = (
    "There is no room to keep every limit with the reading uncertainty to spare: the plan keeps them just at "
    "the readings as they are."
)


def conflicts_in_words(
    site: Site,
    conflicts: tuple[tuple[Requirement, ...], ...],
    requirements: tuple[Requirement, ...],
    nearest: Float,
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Each irreducible conflict as a sentence, and what would have to give.

    Where one requirement alone could give way, each such way is told; else what the nearest plan
    gives up.
    """

    def amount(r: Requirement, give_mm: float) -> str:
        return site.slope(give_mm / r.lever_mm) if r.unit == "slope" else site.length(give_mm)

    sentences = []
    for conflict in conflicts:
        parts = [f"{r.sentence} ({r.source})" for r in conflict]
        sentences.append("These cannot all be kept: " + "; ".join(parts) + ".")
    members = {r.name: r for conflict in conflicts for r in conflict}
    alone = single_relaxations(tuple(members.values()), requirements, len(nearest))
    if "thickness" in alone and members["thickness"].value - alone["thickness"] < site.rules["thin_min"]:
        del alone["thickness"]
    told = []
    for name, give in alone.items():
        r = members[name]
        remedy = f" On site: {r.remedy}." if r.remedy else ""
        told.append(f"It would fit if this alone gave way by {amount(r, give)}: {r.sentence}.{remedy}")
    if not told:
        for r in requirements:
            short = float((r.rhs - r.rows @ nearest).max())
            if not r.wish and short * r.lever_mm > 0.1:
                given = amount(r, short * r.lever_mm)
                told.append(f"The nearest plan falls short by {given} of this: {r.sentence}.")
    return tuple(sentences), tuple(told)


def consequences(site: Site, plan: GradePlan) -> tuple[str, ...]:
    """Sentences on what follows from a plan, beyond the requirements themselves."""
    notes = [note for item in plan.heights_after if (note := _height_note(site, item))]
    if site.house and site.fall < site.rules["fall_house"] - 1e-9:
        notes.append(
            f"The chosen fall of {site.slope(site.fall)} is less than the {site.rules.written('fall_house')} "
            "that IRC R401.3 asks of paving within 10 ft of the house; ask the building office."
        )
    if site.house and any(c.kind is HeightKind.DOOR_SILL for c in site.clearances):
        notes.append(
            f"Beside a door the fall has a narrow window: at least {site.rules.written('fall_house')} away "
            f"from the house (IRC R401.3), no more than {site.rules.written('landing_slope')} on the landing "
            "(IRC R311.3)."
        )
    return tuple(notes)


def _height_note(site: Site, item: ClearanceAfter) -> str | None:
    if item.after_mm is None or item.before_mm is None:
        return None
    raised, after = item.before_mm - item.after_mm, item.after_mm
    match item.kind:
        case HeightKind.ADJOINING_WALK if abs(after) > site.rules["walk_step"]:
            side = "over" if after < 0 else "under"
            return (
                f"At {item.name} the finished surface lies {site.length(abs(after))} {side} the adjoining "
                "walk: make a step of even rise or rebuild the walk to meet it."
            )
        case HeightKind.DRAIN:
            verb = "Raise" if raised > 0 else "Lower"
            told = f"{verb} the rim of {item.name} by {site.length(abs(raised))}."
            rim = told if abs(raised) > 1.0 else ""
            if site.drain is None:
                rim += (
                    f" The surface is not shaped to gather water at {item.name}: name it as fall_toward in "
                    "the field book if it is to."
                )
            return rim.strip() or None
        case HeightKind.FREE_EDGE if -after > site.rules["guard_drop"] >= -item.before_mm:
            return (
                f"The drop at {item.name} grows to {site.length(-after)}, over "
                f"{site.rules.written('guard_drop')}: a guard is needed there (IRC R312.1, from memory)."
            )
        case HeightKind.POST | HeightKind.WALL if abs(raised) > 1.0:
            side = "covers" if raised > 0 else "bares"
            return f"The new surface {side} {site.length(abs(raised))} of {item.kind.value} {item.name}."
        case HeightKind.RISER if item.flight is None and raised > 1.0 and 2 * after < site.rules["riser_max"]:
            return (
                f"The step at {item.name} is left with a rise of {site.length(after)}: a low step is a trip."
            )
    return None


def open_questions(site: Site) -> tuple[str, ...]:
    """What was not measured and had to be assumed or left open."""
    out = []
    corners = [c for c in site.levels.corners if not c.station_id.startswith("edge point")]
    if corners:
        worst = site.rules["coverage"] * max(c.z_u_mm for c in corners)
        names = ", ".join(c.station_id for c in corners)
        out.append(
            f"No level was read at {names}: the height there is carried over from the nearest stations, "
            f"uncertain by {site.length(worst)}; a reading there saves concrete."
        )
    missing = [f"{c.name} ({c.kind.value})" for c in site.clearances if c.height_mm is None]
    if missing:
        out.append(f"Not measured and therefore not checked: {', '.join(missing)}.")
    unsaid = [e.name for e in site.edges if e.abuts is Abuts.UNKNOWN]
    if unsaid and not site.house:
        out.append(
            f"What lies beside edge {', '.join(unsaid)} was not said: if it is a house, this plan does not "
            "hold, as nothing makes the surface fall away from it."
        )
    if site.field.site.public_route is Answer.UNKNOWN:
        out.append("Whether this is a public route is not known: access limits were not imposed.")
    return tuple(out)
