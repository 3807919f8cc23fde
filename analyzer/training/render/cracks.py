"""Cracks: their course, their two ragged edges, and how they look."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from . import curves
from .curves import F64
from .noise import F32, lattice
from .raster import Stamp, blend, cover, gain, normals
from .truth import Ribbon, make_ribbon

CRACK_KINDS = (
    "dark", "dirt_filled", "light_filled", "sealed", "vegetated", "spalled", "smooth", "faint",
)  # fmt: skip
NETWORKS = ("single", "branched", "parallel", "map", "durability", "corner", "shrinkage")


@dataclass(frozen=True, slots=True)
class CrackStyle:
    """Course and opening of the cracks of one picture (lengths in px)."""

    width_px: float
    wander: float = 0.3
    kink: float = 0.4
    kink_px: float = 25.0
    jitter_px: float = 0.6
    ragged: float = 0.3
    vary: float = 0.35
    gaps: float = 0.0
    fractal: bool = False
    grain_px: float = 4.0
    sway_px: float = 0.0
    roam_px: float = 0.0
    bays: float = 0.0


def random_style(rng: np.random.Generator, width_px: float, grain_px: float) -> CrackStyle:
    """A course: from straight and smooth to very ragged."""
    if rng.random() < 0.12:  # smooth ones, to be told from joints by little
        return CrackStyle(
            width_px, rng.uniform(0.03, 0.25), rng.uniform(0, 0.08), rng.uniform(40, 120),
            rng.uniform(0, 0.3), rng.uniform(0.02, 0.15), rng.uniform(0.05, 0.2),
            sway_px=rng.uniform(0, 0.6),
        )  # fmt: skip
    return CrackStyle(
        width_px=width_px,
        wander=rng.uniform(0.08, 0.5),
        kink=rng.uniform(0.1, 0.6),
        kink_px=float(np.exp(rng.uniform(math.log(8), math.log(90)))),
        jitter_px=rng.uniform(0.05, 0.3) * min(max(width_px, 1.0), 4.0) + rng.uniform(0, 0.45),
        ragged=rng.uniform(0.08, 0.5) if width_px < 8 else rng.uniform(0.04, 0.28),
        vary=rng.uniform(0.1, 0.5),
        gaps=rng.uniform(0.02, 0.25) if width_px < 6 and rng.random() < 0.25 else 0.0,
        fractal=rng.random() < 0.25,
        grain_px=grain_px,
        sway_px=rng.uniform(0.3, 2.2),
    )


def course(rng: np.random.Generator, style: CrackStyle, start: F64, end: F64) -> F64:
    """A crack's centreline from start to end."""
    size = float(np.hypot(*(end - start)))
    if size < 4:
        return np.stack([start, end])
    if style.fractal:
        line = curves.midpoint(rng, start, end, 0.03 + 0.16 * style.kink)
    else:
        line = curves.walk(rng, size, 0.0, style.wander, style.kink, style.kink_px, 0.0)
        line = curves.fit_between(line, start, end)
    line = curves.resample(line, 1.5)
    if len(line) > 3 and (style.jitter_px > 0 or style.sway_px > 0 or style.roam_px > 0):
        n = len(line)
        shake = curves.fractal_1d(rng, n, max(style.grain_px, 3.0) / 1.5, 2) * style.jitter_px
        shake += curves.fractal_1d(rng, n, rng.uniform(8, 20), 2) * style.sway_px
        if style.roam_px > 0:
            shake += curves.fractal_1d(rng, n, rng.uniform(18, 120), 3) * style.roam_px
        shake *= np.minimum(np.minimum(np.arange(n), np.arange(n)[::-1]) / 6.0, 1.0)
        line = line + normals(line) * shake[:, None]
    return line


def open_up(
    rng: np.random.Generator,
    line: F64,
    style: CrackStyle,
    kind: str,
    width_px: float | None = None,
    taper: tuple[float, float] = (0.0, 0.0),
) -> list[Ribbon]:
    """Gives a centreline its two edges; an interrupted crack comes back in pieces.

    `taper` is the share of the length over which the opening runs out at start and end.
    """
    n = len(line)
    width0 = style.width_px if width_px is None else width_px
    if n < 3:
        return []
    slow = np.exp(style.vary * curves.fractal_1d(rng, n, 40.0, 2) - style.vary**2 / 2)
    width = width0 * slow
    at = np.linspace(0, 1, n)
    for run, where in ((taper[0], at), (taper[1], 1 - at)):
        if run > 0:
            width = width * np.clip(where / run, 0.0, 1.0) ** 0.6
    keep = width > 0
    if style.gaps > 0:
        field = curves.noise_1d(rng, n, rng.uniform(8, 40))
        closing = field - np.quantile(field, style.gaps)
        keep &= closing > 0
        width = width * np.clip(closing / 0.25, 0.15, 1.0)
    rough = style.ragged * np.minimum(width, 3 + 0.35 * width)
    left = np.maximum(width / 2 + rough * curves.fractal_1d(rng, n, style.grain_px, 3) * 0.6, 0.0)
    right = np.maximum(width / 2 + rough * curves.fractal_1d(rng, n, style.grain_px, 3) * 0.6, 0.0)
    if style.bays > 0:  # pieces broken out of one edge or the other
        for side in (left, right):
            bay = np.maximum(curves.fractal_1d(rng, n, rng.uniform(8, 45), 2) - 0.6, 0)
            side += style.bays * width * bay
    width = np.maximum(left + right, 0.12 * width0 * (width > 0))
    share = np.where(left + right > 1e-6, left / np.maximum(left + right, 1e-6), 0.5)
    whole = make_ribbon(kind, line, width, share)
    out = []
    change = np.nonzero(np.diff(keep.astype(np.int8)))[0] + 1
    for part in np.split(np.arange(n), change):
        if len(part) >= 3 and keep[part[0]]:
            out.append(
                Ribbon(
                    kind, whole.centre_px[part], whole.left_px[part], whole.right_px[part],
                    width[part],
                )
            )  # fmt: skip
    return out


def branch_out(
    rng: np.random.Generator,
    style: CrackStyle,
    main: F64,
    kind: str,
    count: int,
    along: Callable[[np.random.Generator, CrackStyle, F64, F64], F64] = course,
) -> list[Ribbon]:
    """Finer cracks leaving a main one."""
    out = []
    for _ in range(count):
        i = int(rng.integers(len(main) // 10, max(len(main) - len(main) // 10, 1)))
        d = main[min(i + 8, len(main) - 1)] - main[max(i - 8, 0)]
        heading = math.atan2(d[1], d[0]) + rng.choice([-1, 1]) * rng.uniform(0.3, 1.4)
        size = float(np.exp(rng.uniform(math.log(20), math.log(260))))
        line = along(rng, style, main[i], main[i] + curves.turned(heading) * size)
        out += open_up(
            rng, line, style, kind, style.width_px * rng.uniform(0.3, 0.8), (0.0, rng.uniform(0.2, 0.9))
        )
    return out


def map_network(
    rng: np.random.Generator,
    style: CrackStyle,
    kind: str,
    centre: F64,
    reach_px: float,
    cell_px: float,
    along: Callable[[np.random.Generator, CrackStyle, F64, F64], F64] = course,
) -> list[Ribbon]:
    """Map cracking: the bent borders of irregular cells, some missing."""
    from scipy.spatial import Voronoi

    n = min(max(int((2 * reach_px / cell_px) ** 2), 6), 420)
    points = centre + rng.uniform(-reach_px, reach_px, (n, 2))
    vor = Voronoi(points)
    out: list[Ribbon] = []
    keep, phase = rng.uniform(0.6, 0.98), rng.uniform(0, 6.28)
    for a, b in vor.ridge_vertices:
        if a < 0 or b < 0 or rng.random() > keep:
            continue
        p, q = vor.vertices[a], vor.vertices[b]
        bearing = math.atan2(*((p + q) / 2 - centre))
        limit = reach_px * (0.72 + 0.2 * math.sin(2 * bearing + phase) + 0.1 * math.sin(5 * bearing))
        if max(np.hypot(*(p - centre)), np.hypot(*(q - centre))) > limit:
            continue
        if np.hypot(*(q - p)) < 5:
            continue
        line = along(rng, style, p, q)
        out += open_up(rng, line, style, kind, style.width_px * float(rng.lognormal(0, 0.3)))
    return out


@dataclass(frozen=True, slots=True)
class CrackLook:
    """Colour of a crack: reflectance of its core and what lies beside it."""

    core: tuple[float, float, float]
    strength: float = 1.0
    mottle: float = 0.2
    halo: float = 0.0
    halo_px: float = 4.0
    halo_tint: tuple[float, float, float] = (0.8, 0.75, 0.65)
    wall: float = 0.0
    rim: float = 0.0
    fade: float = 0.0
    grain_px: float = 2.2
    bevel: float = 0.0
    wall_tint: tuple[float, float, float] = (0.75, 0.75, 0.75)


def random_look(rng: np.random.Generator, kind: str, width_px: float, base: F32) -> CrackLook:
    """How a crack of a kind looks on concrete of reflectance `base` (3,)."""
    tint = np.array([1.0, rng.uniform(0.9, 1.0), rng.uniform(0.75, 1.0)])
    wall = rng.uniform(0.0, 0.6) if width_px > 4 else 0.0
    halo = rng.uniform(0.05, 0.4) if rng.random() < 0.5 else 0.0
    halo_px = rng.uniform(1.5, 6.0) + 0.6 * width_px
    rim = rng.uniform(0.0, 0.25) if rng.random() < 0.35 else 0.0
    bevel = rng.uniform(0.1, 0.55) if rng.random() < 0.4 else 0.0
    warm = rng.uniform(0.5, 0.9)
    strength, mottle = 1.0, rng.uniform(0.0, 0.3)
    fade = rng.uniform(0.1, 0.6) if width_px < 4 and rng.random() < 0.4 else 0.0
    if kind == "dirt_filled":
        core = base * rng.uniform(0.25, 0.65) * tint
        mottle = rng.uniform(0.2, 0.6)
    elif kind == "light_filled":
        core = np.minimum(base * rng.uniform(1.25, 1.9), 0.9)
        wall = 0.0
    elif kind == "sealed":
        core = np.full(3, rng.uniform(0.02, 0.09))
        mottle, wall, halo = 0.1, 0.0, 0.0
    elif kind == "vegetated":
        core = np.array([0.06, 0.10, 0.03]) * rng.uniform(0.5, 1.8)
        mottle = 0.6
    elif kind == "faint":
        core = base * rng.uniform(0.4, 0.85) * tint
        strength = rng.uniform(0.3, 1.0)
    else:
        core = np.full(3, rng.uniform(0.004, 0.05)) * tint + base * rng.uniform(0.0, 0.14)
        if width_px < 2.5:
            strength = rng.uniform(0.75, 1.0)
    return CrackLook(
        (float(core[0]), float(core[1]), float(core[2])), strength, mottle, halo, halo_px,
        (rng.uniform(0.65, 1.0), rng.uniform(0.6, 0.95), rng.uniform(0.5, 0.9)), wall, rim,
        fade, rng.uniform(1.3, 4.0), bevel, (warm, warm * rng.uniform(0.75, 1), warm * rng.uniform(0.5, 1)),
    )  # fmt: skip


def shifted(alpha: F32, d_row: float, d_col: float) -> F32:
    """A coverage moved by a sub-pixel amount, zeros coming in."""
    m = np.array([[1, 0, d_col], [0, 1, d_row]], np.float64)
    return np.asarray(
        cv2.warpAffine(alpha, m, (alpha.shape[1], alpha.shape[0]), flags=cv2.INTER_LINEAR),
        np.float32,
    )


def draw(
    rgb: F32, ribbons: Sequence[Ribbon], look: CrackLook, rng: np.random.Generator, light_rad: float
) -> Stamp:
    """Draws ribbons of one crack system into `rgb` in place; returns their exact coverage."""
    shape = (rgb.shape[0], rgb.shape[1])
    if not ribbons:
        return Stamp(0, 0, np.zeros((0, 0), np.float32))
    stamp = cover([r.ring for r in ribbons], shape)
    if stamp.empty:
        return stamp
    size = (stamp.alpha.shape[0], stamp.alpha.shape[1])
    widest = float(np.median(np.concatenate([r.width_px for r in ribbons])))
    dr, dc = math.cos(light_rad), math.sin(light_rad)
    if look.halo > 0:
        band = cover([r.widened(float(look.halo_px)) for r in ribbons], shape)
        soft = cv2.GaussianBlur(band.alpha, (0, 0), max(look.halo_px / 3, 0.8))
        patchy = lattice(rng, (soft.shape[0], soft.shape[1]), (18.0, 18.0)) * 0.5 + 0.7
        soft = soft * np.clip(patchy, 0, 1) * np.float32(look.halo)
        gain(rgb, Stamp(band.row, band.col, soft), look.halo_tint)
    if look.bevel > 0:  # the worn edge that turns away from the light
        d = 0.8 + 0.25 * min(widest, 14)
        pad = int(2 * d) + 3
        wide = cv2.copyMakeBorder(stamp.alpha, pad, pad, pad, pad, cv2.BORDER_CONSTANT, value=0.0)
        shade = cv2.GaussianBlur(shifted(np.asarray(wide, np.float32), -dr * d, -dc * d), (0, 0), 0.6 * d)
        shade = shade[pad:-pad, pad:-pad] * (1 - stamp.alpha)
        gain(rgb, Stamp(stamp.row, stamp.col, np.ascontiguousarray(shade)), 1 - look.bevel)
    if look.rim > 0:
        d = 0.5 + 0.25 * min(widest, 6)
        lit = np.clip(shifted(stamp.alpha, dr * d, dc * d) - stamp.alpha, 0, 1)
        gain(rgb, Stamp(stamp.row, stamp.col, lit), 1 + look.rim)
    strength = np.float32(look.strength)
    core = np.asarray(look.core, np.float32)
    if look.mottle > 0:
        field = 0.6 * lattice(rng, size, (30.0, 30.0))
        field += 0.8 * lattice(rng, size, (look.grain_px, look.grain_px))
        colour = core * (1 + np.float32(look.mottle) * field[..., None] * 0.7)
        colour = np.clip(colour, 0.004, 1.0).astype(np.float32)
    else:
        colour = np.broadcast_to(core, (*size, 3)).astype(np.float32)
    if look.wall > 0:
        d = 0.28 * widest
        lit = stamp.alpha * (1 - shifted(stamp.alpha, dr * d, dc * d))
        lit = cv2.GaussianBlur(lit, (0, 0), 0.7)
        lit *= np.clip(0.6 + 0.6 * lattice(rng, size, (12.0, 12.0)), 0, 1.2)
        wall = rgb[stamp.window] * np.asarray(look.wall_tint, np.float32)
        colour = colour + (lit * np.float32(look.wall))[..., None] * (wall - colour)
    alpha = stamp.alpha * strength
    if look.fade > 0:
        alpha *= 1 - np.float32(look.fade) * np.clip(0.4 + 0.6 * lattice(rng, size, (24.0, 24.0)), 0, 1)
    blend(rgb, Stamp(stamp.row, stamp.col, alpha), colour)
    return stamp
