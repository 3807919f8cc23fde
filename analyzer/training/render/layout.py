"""Where joints and cracks run in one tile."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from . import cracks, curves, depth, joints
from .curves import F64
from .truth import Ribbon

Rng = np.random.Generator
Project = Callable[[F64], F64]
Course = Callable[[Rng, cracks.CrackStyle, F64, F64], F64]

JOINT_WIDTH_MM = {
    "sawn": (2.5, 7.0), "tooled": (3.0, 12.0), "construction": (0.8, 4.0), "isolation": (8.0, 26.0),
    "sealed_new": (5.0, 22.0), "sealed_worn": (5.0, 22.0), "weed": (4.0, 28.0), "dirt": (3.0, 22.0),
    "ravelled": (3.0, 12.0), "faint": (2.0, 9.0),
}  # fmt: skip
"""Usual openings by kind: common practice, no source."""

_KIND_SHARE = (0.24, 0.2, 0.08, 0.07, 0.07, 0.08, 0.06, 0.09, 0.06, 0.05)


@dataclass(frozen=True, slots=True)
class JointLayout:
    """Joints of a tile: ribbons and plan lines, and panels (ring, tone factor) between them."""

    ribbons: tuple[Ribbon, ...]
    lines: tuple[tuple[F64, F64], ...]
    panels: tuple[tuple[F64, float], ...]


def _seen(start: F64, end: F64, project: Project) -> tuple[F64, F64]:
    pts = project(np.stack([start, end]))
    return pts[0], pts[1]


def lay_joints(rng: Rng, size: int, mm_per_px: float, project: Project) -> JointLayout:
    """One line, parallel lines, a grid or a staggered grid of one or two kinds."""
    mid = np.array([size / 2, size / 2])
    angle = rng.choice([0.0, math.pi / 2]) + rng.normal(0, 0.12)
    if rng.random() < 0.5:
        angle = rng.uniform(0, math.pi)
    along, across = curves.turned(angle), curves.turned(angle + math.pi / 2)
    reach = size * 1.5
    spacing = float(np.clip(rng.uniform(700, 4500) / mm_per_px, 45, 4000))
    if mm_per_px > 2.5:
        spacing = rng.uniform(0.12, 0.7) * size
    kind_a = str(rng.choice(joints.JOINT_KINDS, p=_KIND_SHARE))
    kind_b = kind_a if rng.random() < 0.6 else str(rng.choice(joints.JOINT_KINDS, p=_KIND_SHARE))
    cross = rng.random() < 0.55
    stagger = rng.random() < 0.2
    first = rng.uniform(-0.5, 0.5) * min(spacing, size * 0.9)
    main = [o for o in first + spacing * np.arange(-8, 9) if abs(o) < reach * 0.75]
    ratio = rng.uniform(0.5, 1.8)
    other_at = rng.uniform(-0.5, 0.5) * min(spacing * ratio, size * 0.9)
    segments: list[tuple[str, F64, F64]] = []
    for o in main:
        p = mid + across * o
        segments.append((kind_a, p - along * reach, p + along * reach))
    if cross and main:
        rows = [-reach, *main, reach]
        for k in range(len(rows) - 1):
            if rng.random() < 0.15:
                continue
            shift = (k % 2) * 0.5 * spacing * ratio if stagger else 0.0
            offs = other_at + shift + spacing * ratio * np.arange(-8, 9)
            for o in offs[np.abs(offs) < reach * 0.75]:
                p = mid + along * o
                segments.append((kind_b, p + across * rows[k], p + across * rows[k + 1]))
    widths = {
        k: float(np.clip(np.exp(rng.uniform(*np.log(JOINT_WIDTH_MM[k]))) / mm_per_px, 0.7, 45))
        for k in {kind_a, kind_b}
    }
    if "faint" in widths:  # a wide groove is never faint
        widths["faint"] = min(widths["faint"], rng.uniform(1.5, 6.0))
    ribbons, lines = [], []
    for kind, p, q in segments:
        a, b = _seen(p, q, project)
        bow = rng.normal(0, 0.002) * size if rng.random() < 0.3 else 0.0
        wide = widths[kind] * _local_scale(project, (p + q) / 2)
        ribbons.append(joints.lay(rng, kind, a, b, max(wide, 0.6), bow))
        lines.append((p, q))
    panels = []
    if rng.random() < 0.5 and main:
        edges = [-2 * reach, *main, 2 * reach]
        amount = rng.uniform(0.01, 0.12)
        for lo, hi in itertools.pairwise(edges):
            lo, hi = max(lo, -reach), min(hi, reach)
            ring = np.stack([
                mid + across * lo - along * reach, mid + across * lo + along * reach,
                mid + across * hi + along * reach, mid + across * hi - along * reach,
            ])  # fmt: skip
            panels.append((project(ring), float(np.exp(rng.normal(0, amount)))))
    return JointLayout(tuple(ribbons), tuple(lines), tuple(panels))


def _local_scale(project: Project, at: F64) -> float:
    p = project(np.stack([at, at + np.array((1.0, 0.0)), at + np.array((0.0, 1.0))]))
    a, b = p[1] - p[0], p[2] - p[0]
    return float(math.sqrt(max(abs(a[0] * b[1] - a[1] * b[0]), 1e-3)))


def _on_line(rng: Rng, layout: JointLayout, size: int) -> F64:
    p, q = layout.lines[int(rng.integers(len(layout.lines)))]
    for _ in range(8):
        at = p + (q - p) * rng.random()
        if (at > -0.1 * size).all() and (at < 1.1 * size).all():
            break
    return np.asarray(at)


def plan_cracks(
    rng: Rng,
    size: int,
    width_px: float,
    grain_px: float,
    layout: JointLayout,
    project: Project,
    course: Course = cracks.course,
) -> list[tuple[str, list[Ribbon]]]:
    """Crack systems of a tile: (look, ribbons), already in picture px."""
    out: list[tuple[str, list[Ribbon]]] = []
    systems = 1 if rng.random() < 0.7 else 2
    for k in range(systems):
        width = width_px if k == 0 else float(np.clip(width_px * rng.lognormal(-0.3, 0.5), 0.6, 45))
        deep = width >= depth.DEEP_FROM_PX and rng.random() < 0.75
        style = (depth.gap_style if deep else cracks.random_style)(rng, width, grain_px)
        kind = str(rng.choice(cracks.CRACK_KINDS, p=[0.59, 0.12, 0.05, 0.04, 0.05, 0.05, 0.04, 0.06]))
        if deep and kind not in ("light_filled", "sealed"):
            kind = "deep"
        elif kind == "smooth":
            style = cracks.CrackStyle(width, 0.1, 0.05, 80, 0.15, 0.08, 0.1, sway_px=0.3)
        out.append((kind, _system(rng, size, style, kind, layout, project, course)))
    return out


def _ends(rng: Rng, size: int, layout: JointLayout) -> tuple[F64, F64, tuple[float, float]]:
    """Ends of a crack, often from joint to joint or right through the picture, and the share of its
    length over which it runs out at an end that lies in sound concrete."""

    def run_out() -> float:
        return float(rng.uniform(0.1, 0.7))

    if layout.lines and rng.random() < 0.6:
        p = _on_line(rng, layout, size)
        joined = rng.random() < 0.5
        q = _on_line(rng, layout, size) if joined else np.asarray(rng.uniform(-0.3, 1.3, 2) * size)
        if np.hypot(*(p - q)) > 40:
            return p, q, (0.0, 0.0 if joined else run_out())
    at = rng.uniform(0.1, 0.9, 2) * size
    a = rng.uniform(0, 2 * math.pi)
    right_on, right_back = rng.random() < 0.75, rng.random() < 0.65
    far = size * (1.5 if right_on else rng.uniform(0.1, 0.6))
    back = size * (1.5 if right_back else rng.uniform(0.02, 0.4))
    taper = (0.0 if right_back else run_out(), 0.0 if right_on else run_out())
    return at - curves.turned(a) * back, at + curves.turned(a) * far, taper


def _system(
    rng: Rng,
    size: int,
    style: cracks.CrackStyle,
    kind: str,
    layout: JointLayout,
    project: Project,
    course: Course,
) -> list[Ribbon]:
    network = str(rng.choice(cracks.NETWORKS, p=[0.45, 0.22, 0.06, 0.10, 0.05, 0.06, 0.06]))
    if style.width_px > 9 and network not in ("single", "branched", "corner"):
        network = "single"

    def lay(line: F64, width: float | None = None, taper: tuple[float, float] = (0, 0)) -> list[Ribbon]:
        return cracks.open_up(rng, curves.resample(project(line), 1.5), style, kind, width, taper)

    p, q, taper = _ends(rng, size, layout)
    if network in ("single", "branched"):
        main = course(rng, style, p, q)
        out = lay(main, None, taper)
        if network == "branched":
            out += cracks.branch_out(
                rng, style, curves.resample(project(main), 1.5), kind, int(rng.integers(1, 5)), course
            )
        return out
    if network == "parallel":
        d = (q - p) / max(float(np.hypot(*(q - p))), 1e-6)
        n = np.array([d[1], -d[0]])
        gap = rng.uniform(15, 120)
        out = []
        for k in range(int(rng.integers(2, 5))):
            off = n * gap * k + rng.normal(0, 8, 2)
            out += lay(course(rng, style, p + off, q + off), None, (rng.uniform(0, 0.4), rng.uniform(0, 0.4)))
        return out
    if network == "map":
        centre = rng.uniform(0, 1, 2) * size
        cell = float(np.exp(rng.uniform(math.log(18), math.log(170))))
        narrow = cracks.CrackStyle(
            min(style.width_px, 0.12 * cell), style.wander, style.kink, min(style.kink_px, cell / 3),
            style.jitter_px, style.ragged, style.vary, style.gaps, style.fractal, style.grain_px,
            min(style.sway_px, cell / 25),
        )  # fmt: skip
        reach = min(rng.uniform(0.3, 1.0) * size, cell * 9)
        found = cracks.map_network(rng, narrow, kind, centre, reach, cell, course)
        return [r for f in found for r in _project_ribbon(f, project)]
    if network == "durability":
        if layout.lines:
            a, b = layout.lines[int(rng.integers(len(layout.lines)))]
        else:
            a, b = p, q
        d = (b - a) / max(float(np.hypot(*(b - a))), 1e-6)
        n = np.array([d[1], -d[0]]) * rng.choice([-1, 1])
        at = a + d * rng.uniform(0.3, 0.7) * float(np.hypot(*(b - a)))
        out = []
        gap = rng.uniform(6, 30)
        for k in range(int(rng.integers(2, 7))):
            half = d * rng.uniform(30, 250)
            off = n * gap * (k + 1) * rng.uniform(0.8, 1.2)
            out += lay(course(rng, style, at + off - half, at + off + half), None, (0.3, 0.3))
        return out
    if network == "corner":
        corner = _on_line(rng, layout, size) if layout.lines else rng.uniform(0, 1, 2) * size
        leg = rng.uniform(0.1, 0.5) * size
        bearing = rng.uniform(0, 2 * math.pi)
        u = corner + curves.turned(bearing) * leg
        v = corner + curves.turned(bearing + math.pi / 2) * leg * rng.uniform(0.6, 1.5)
        return lay(course(rng, style, u, v))
    out = []
    heading = rng.uniform(0, math.pi)
    for _ in range(int(rng.integers(3, 16))):
        at = rng.uniform(0, 1, 2) * size
        half = curves.turned(heading + rng.normal(0, 0.25)) * rng.uniform(10, 90)
        out += lay(course(rng, style, at - half, at + half), None, (0.4, 0.4))
    return out


def _project_ribbon(r: Ribbon, project: Project) -> list[Ribbon]:
    centre, left, right = project(r.centre_px), project(r.left_px), project(r.right_px)
    width = np.hypot(*(left - right).T)
    return [Ribbon(r.kind, centre, left, right, width)]
