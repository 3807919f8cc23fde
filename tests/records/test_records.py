"""Records are frozen, slotted, and refuse what contradicts itself."""

from __future__ import annotations

import dataclasses
import typing

import numpy as np
import pytest

import analyzer.records as records
from analyzer.errors import RecordError
from analyzer.records import Calibration, Photo, PlanImage
from analyzer.terms import ScaleMethod

KINDS = [v for v in vars(records).values() if dataclasses.is_dataclass(v) and isinstance(v, type)]


@pytest.mark.parametrize("kind", KINDS, ids=lambda k: k.__name__)
def test_frozen_slotted_and_described(kind: type) -> None:
    parameters = kind.__dataclass_params__  # type: ignore[attr-defined]
    assert parameters.frozen
    assert "__slots__" in vars(kind)
    assert kind.__doc__
    assert not kind.__doc__.startswith(kind.__name__ + "(")


@pytest.mark.parametrize("kind", KINDS, ids=lambda k: k.__name__)
def test_no_list_or_dict_inside(kind: type) -> None:
    for name, hint in typing.get_type_hints(kind).items():
        assert typing.get_origin(hint) not in (list, dict, set), f"{kind.__name__}.{name}"


@pytest.mark.parametrize("kind", KINDS, ids=lambda k: k.__name__)
def test_lengths_areas_and_uncertainties_carry_their_unit(kind: type) -> None:
    units = ("_mm", "_mm2", "_m3", "_px", "_deg", "_years", "_rel", "_u")
    for field in dataclasses.fields(kind):
        for word in (
            "length",
            "width",
            "area",
            "depth",
            "height",
            "thickness",
            "settlement",
            "residual",
            "misclosure",
        ):
            plain_number = typing.get_type_hints(kind)[field.name] in (float, float | None)
            if plain_number and field.name.startswith(word):
                assert field.name.endswith(units) or "mm" in field.name, f"{kind.__name__}.{field.name}"


def test_a_photo_must_be_colour_bytes_and_becomes_read_only() -> None:
    with pytest.raises(RecordError, match=r"\(R, C, 3\)"):
        Photo("p", "p.jpg", np.zeros((4, 4), np.uint8), "0", 1)
    photo = Photo("p", "p.jpg", np.zeros((4, 4, 3), np.uint8), "0", 1)
    with pytest.raises(ValueError, match="read-only"):
        photo.rgb[0, 0, 0] = 1


def test_a_calibration_needs_a_homography() -> None:
    with pytest.raises(RecordError, match=r"\(3, 3\)"):
        Calibration("p", np.eye(2), ScaleMethod.MARKED_POINTS, 0.0, 0.0, 0.0, ())


def test_unseen_area_is_never_negative() -> None:
    grid = records.PlanGrid(0, 0, 1, 1, 1)
    image = PlanImage(grid, (), (), grid, np.zeros((1, 1), np.int16), 10.0, 10.5)
    assert image.unseen_area_mm2 == 0.0


def test_package_lists_what_it_holds() -> None:
    assert set(records.__all__) >= {k.__name__ for k in KINDS}
