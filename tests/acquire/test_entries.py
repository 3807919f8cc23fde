"""From values to records: directions, edges, pixels, half-widths."""

import math
from collections.abc import Callable

import pytest
import shapely

from analyzer.acquire import parse_field_book
from analyzer.acquire.entries import anticlockwise, edge_names
from analyzer.records import Corner
from analyzer.terms import Abuts, Answer, JointKind, Support


def test_the_example_line_by_line(example: str) -> None:
    book = parse_field_book(example)
    assert book.job.job_id == "chapel-walk"
    assert book.stops.carries_posts is Answer.YES
    assert book.stops.clearings[0].stop == "carries_posts"
    # Worked by hand with 1 in = 25.4 mm, half-width over sqrt(3).
    assert book.slab.thickness is not None
    assert book.slab.thickness.mm == pytest.approx(101.6)
    assert book.slab.thickness.u_mm == pytest.approx(6.35 / math.sqrt(3))
    assert book.slab.rocking_panels == ()
    assert (book.outline[3].x_mm, book.outline[3].y_mm) == (1981.2, 5791.2)  # 6 ft 6 in, 19 ft
    assert book.joints[3].start_mm == (0.0, 5791.2)
    assert book.joints[3].kind is JointKind.CONSTRUCTION
    assert book.sheets[0].centre_u_mm == pytest.approx(12.7 / math.sqrt(3))
    assert book.photos[1].marks[0].col_px == 412.5
    assert book.photos[1].marks[0].row_px == 2630
    assert book.photos[1].marks[0].plan_mm == (-457.2, 5791.2)
    assert book.photos[2].distances[0].distance.mm == 150
    assert book.stations[0].station_id == "S1"
    again = book.stations[-1]
    assert (again.check_of, again.x_mm, again.y_mm) == ("S1", book.stations[0].x_mm, book.stations[0].y_mm)
    assert book.cracks[1].width is None
    assert book.areas[0].area_mm2 == pytest.approx(6 * 304.8**2)
    edge, down = book.heights[-2:]
    assert edge.above_slab is not None
    assert edge.above_slab.mm == -63.5
    assert down.above_slab is not None
    assert down.above_slab.mm == pytest.approx(6.5 * 25.4)
    assert down.goes == "down"
    assert book.design.fall == pytest.approx(1 / 48)
    assert book.design.waste_fraction == pytest.approx(0.08)
    # 0.25 yd3 = 0.25 x 0.764554857984 m3.
    assert book.design.plant_step_m3 == pytest.approx(0.191138714496)


def test_edges_are_complete_and_run_with_the_outline(edited: Callable[..., str]) -> None:
    book = parse_field_book(edited('from = "H"\nto = "A"', 'from = "A"\nto = "H"'))
    assert [edge.name for edge in book.edges] == ["A-B", "B-C", "C-D", "D-E", "E-F", "F-G", "G-H", "H-A"]
    assert book.edges[7].support is Support.PARTLY_WASHED
    assert book.edges[4].abuts is Abuts.HOUSE
    assert book.edges[2].abuts is Abuts.UNKNOWN


def test_a_clockwise_outline_is_turned(example: str) -> None:
    start, end = example.index("[[corner]]"), example.index("[[edge]]")
    corners = ["[[corner]]" + part for part in example[start:end].split("[[corner]]")[1:]]
    clockwise = example[:start] + "\n".join([corners[0], *reversed(corners[1:])]) + example[end:]
    turned, straight = parse_field_book(clockwise), parse_field_book(example)
    assert turned.outline == straight.outline
    assert turned.edges == straight.edges
    assert turned.design.fall_toward == straight.design.fall_toward == "A-B"
    # General library: shapely tells the direction of the ring.
    assert shapely.LinearRing([(c.x_mm, c.y_mm) for c in turned.outline]).is_ccw


def test_fall_is_named_as_the_outline_runs(edited: Callable[..., str]) -> None:
    book = parse_field_book(edited('fall_toward = "A-B"', 'fall_toward = "B-A"'))
    assert book.design.fall_toward == "A-B"
    for place in ("C", "yard-side drain"):
        drain = '[[height]]\nkind = "drain"\nname = "yard-side drain"\nat = "C"\n\n[design]'
        book = parse_field_book(edited('fall_toward = "A-B"', f'fall_toward = "{place}"', "[design]", drain))
        assert book.design.fall_toward == place


def test_turning_keeps_the_first_corner_first() -> None:
    square = tuple(Corner(n, x, y) for n, x, y in [("A", 0, 0), ("B", 0, 1), ("C", 1, 1), ("D", 1, 0)])
    assert [corner.name for corner in anticlockwise(square)] == ["A", "D", "C", "B"]
    assert anticlockwise(anticlockwise(square)) == anticlockwise(square)
    assert edge_names(("A", "B", "C"))[frozenset("CA")] == "C-A"
