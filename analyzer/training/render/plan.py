"""A slab described in plan millimetres, to be drawn by `scene.render_photo`.

Plan points are (x, y), x to the right, y up, seen from above.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .curves import F64
from .grounds import GROUNDS
from .joints import JOINT_KINDS
from .objects import OBJECTS
from .shadows import SHADOWS
from .stains import STAINS
from .surface import FINISHES

Point = tuple[float, float]


def _known(kind: str, kinds: tuple[str, ...] | list[str], what: str) -> None:
    if kind not in kinds:
        raise ValueError(f"{what} {kind!r} is unknown: use one of {', '.join(kinds)}")


@dataclass(frozen=True, slots=True)
class CrackPlan:
    """A crack through plan points.

    `width_mm` is one opening or one per point. With `roughness` 0 the line and its edges are drawn
    exactly as given; up to 1 they wander and fray as real ones do, and the truth follows what was
    drawn. `darkness` is the share of the surface's light that the crack swallows.
    """

    points_mm: tuple[Point, ...]
    width_mm: float | tuple[float, ...]
    kind: str = "dark"
    roughness: float = 0.5
    darkness: float = 0.92
    name: str = ""


@dataclass(frozen=True, slots=True)
class JointPlan:
    """A straight joint of a kind from `joints.JOINT_KINDS`."""

    start_mm: Point
    end_mm: Point
    width_mm: float
    kind: str = "sawn"
    name: str = ""

    def __post_init__(self) -> None:
        _known(self.kind, JOINT_KINDS, "joint kind")


@dataclass(frozen=True, slots=True)
class SpallPlan:
    """A spall, a scaled spot or a patch of other material, with its outline."""

    outline_mm: tuple[Point, ...]
    kind: str = "spall"

    def __post_init__(self) -> None:
        _known(self.kind, ["spall", "scaling", "patch"], "damage kind")


@dataclass(frozen=True, slots=True)
class StainPlan:
    """A stain of a kind from `stains.STAINS` within a square about a point."""

    kind: str
    at_mm: Point
    size_mm: float

    def __post_init__(self) -> None:
        _known(self.kind, list(STAINS), "stain kind")


@dataclass(frozen=True, slots=True)
class ObjectPlan:
    """Things of a kind from `objects.OBJECTS` lying within a square about a point."""

    kind: str
    at_mm: Point
    size_mm: float

    def __post_init__(self) -> None:
        _known(self.kind, list(OBJECTS), "object kind")


@dataclass(frozen=True, slots=True)
class ShadowPlan:
    """A shadow: a plan polygon, or (no outline) a kind from `shadows.SHADOWS` over the slab."""

    kind: str = "polygon"
    outline_mm: tuple[Point, ...] = ()
    soft_mm: float = 15.0
    ambient: float = 0.5

    def __post_init__(self) -> None:
        _known(self.kind, ["polygon", *SHADOWS], "shadow kind")


@dataclass(frozen=True, slots=True)
class GroundPlan:
    """Ground of a kind from `grounds.GROUNDS` inside a plan polygon (a wall's foot, a bed, a path)."""

    kind: str
    outline_mm: tuple[Point, ...]

    def __post_init__(self) -> None:
        _known(self.kind, list(GROUNDS), "ground kind")


@dataclass(frozen=True, slots=True)
class WallPlan:
    """An upright wall over a plan line, in front of whatever lies behind it.

    `openings` are doors and windows: (from, to) along the wall, (from, to) up, and a colour.
    """

    start_mm: Point
    end_mm: Point
    height_mm: float = 2600.0
    kind: str = "brick"
    openings: tuple[tuple[float, float, float, float, tuple[float, float, float]], ...] = ()

    def __post_init__(self) -> None:
        _known(self.kind, ["brick", "plaster"], "wall kind")


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """A printed sheet lying on the slab.

    `image` is (rows, cols) uint8, 255 = paper; `corners_mm` are the plan positions of its outer
    corners in the order upper left, upper right, lower right, lower left.
    """

    image: NDArray[np.uint8]
    corners_mm: tuple[Point, Point, Point, Point]


@dataclass(frozen=True, slots=True)
class SlabScene:
    """Everything on and around one slab.

    `texture_mm` is the pixel of the slab's texture; None takes it from the camera. With one value
    several photos of a slab show the same grain.
    """

    outline_mm: tuple[Point, ...]
    cracks: tuple[CrackPlan, ...] = ()
    joints: tuple[JointPlan, ...] = ()
    spalls: tuple[SpallPlan, ...] = ()
    stains: tuple[StainPlan, ...] = ()
    objects: tuple[ObjectPlan, ...] = ()
    shadows: tuple[ShadowPlan, ...] = ()
    grounds: tuple[GroundPlan, ...] = ()
    sheets: tuple[SheetPlan, ...] = ()
    walls: tuple[WallPlan, ...] = ()
    surround: str = "grass"
    finish: str = "broom"
    colour: tuple[float, float, float] | None = None
    texture: float = 1.0
    texture_mm: float | None = None
    panel_tones: tuple[tuple[tuple[Point, ...], float], ...] = field(default=())

    def __post_init__(self) -> None:
        _known(self.surround, list(GROUNDS), "ground kind")
        _known(self.finish, FINISHES, "finish")
        if len(self.outline_mm) < 3:
            raise ValueError("slab outline needs at least three corners")

    @property
    def box_mm(self) -> tuple[F64, F64]:
        """Lower left and upper right corner of the outline's box."""
        pts = np.array(self.outline_mm, dtype=np.float64)
        return pts.min(axis=0), pts.max(axis=0)
