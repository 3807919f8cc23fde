"""Square training pictures: one patch of slab, or of something else, with its masks."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from analyzer.frames import matrix_xy_from_rc

from . import camera, cracks, damage, depth, grounds, joints, marks, objects, surface
from .curves import F64, fractal_1d
from .layout import JointLayout, lay_joints, plan_cracks
from .noise import F32, generator
from .raster import cover, full, gain, ribbon
from .style import Style, style_of
from .truth import U8, Ribbon, centre_mask, crack_weight, mask_of, width_map

Rng = np.random.Generator


@dataclass(frozen=True, slots=True)
class RenderedTile:
    """A drawn picture and its truth, all (size, size).

    Masks are 0 or 255. `crack_weight` (0..1) is the loss weight of the crack mask: 0 where nobody
    could see the crack, or where it lies under a leaf or in a joint. `crack_width_px` is the
    opening at crack pixels. `cracks` and `joints` are the exact ribbons; their visible part is what
    the masks show.
    """

    rgb: U8
    crack: U8
    joint: U8
    patch: U8
    slab: U8
    crack_weight: F32
    crack_width_px: F32
    crack_centre: U8
    cracks: tuple[Ribbon, ...]
    joints: tuple[Ribbon, ...]
    joint_kinds: tuple[str, ...]
    subject: str
    mm_per_px: float


@dataclass(slots=True)
class _Work:
    """The picture while it is being drawn."""

    rgb: F32
    light_rad: float
    mm_per_px: float
    grain_px: float
    patch: F32
    hidden: F32
    outside: F32
    step: F32
    style: Style
    joint_layout: JointLayout
    cracks: list[Ribbon]


def _pose(rng: Rng, size: int) -> F64 | None:
    """Homography of (row, col, 1) from plan px to picture px, or None for straight down."""
    if rng.random() < 0.4:
        return None
    tilt = abs(rng.normal(0, 0.45))
    tilt = min(tilt, 1.05)
    turn = rng.uniform(0, 2 * math.pi)
    depth = float(np.exp(rng.uniform(math.log(2.6), math.log(10)))) * size
    c, s = math.cos(turn), math.sin(turn)
    mid = (size - 1) / 2
    to_mid = np.array([[1, 0, -mid], [0, 1, -mid], [0, 0, 1]], float)
    spin = np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
    lean = np.array([[math.cos(tilt), 0, 0], [0, 1, 0], [math.sin(tilt) / depth, 0, 1]])
    scale = 1 / math.sqrt(math.cos(tilt))
    grow = np.diag([scale, scale, 1.0])
    out = np.linalg.inv(to_mid) @ spin.T @ grow @ lean @ spin @ to_mid
    return np.asarray(out)


def apply(h: F64 | None, pts: F64) -> F64:
    """Maps (n, 2) points by a homography of (row, col, 1)."""
    if h is None:
        return pts
    q = pts @ h[:, :2].T + h[:, 2]
    return np.asarray(q[:, :2] / q[:, 2:])


def _warp(rgb: F32, h: F64 | None, size: int) -> F32:
    if h is None:
        return rgb
    margin = (rgb.shape[0] - size) / 2
    h = h @ np.array([[1, 0, -margin], [0, 1, -margin], [0, 0, 1]], float)
    return np.asarray(
        cv2.warpPerspective(
            rgb, matrix_xy_from_rc(h), (size, size), flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REFLECT_101,
        ),
        np.float32,
    )  # fmt: skip


def _blank(size: int) -> F32:
    return np.zeros((size, size), np.float32)


def _add_stains(rng: Rng, w: _Work, mean_count: float) -> None:
    for _ in range(min(int(rng.poisson(mean_count)), 5)):
        w.style.stain(rng, w.rgb, w.light_rad)


def _add_patches(rng: Rng, w: _Work) -> None:
    size = w.rgb.shape[0]
    if rng.random() < 0.12:
        for _ in range(int(rng.integers(1, 3))):
            ring = damage.patch_ring(rng, (size, size), size * rng.uniform(0.12, 0.7))
            w.patch = np.maximum(w.patch, damage.patch(rng, w.rgb, ring, w.grain_px, w.light_rad))
    if rng.random() < 0.1:
        area = surface.scaling(rng, w.rgb, w.grain_px, w.light_rad)
        w.patch = np.maximum(w.patch, area)
    if rng.random() < 0.08:
        r = float(np.clip(rng.uniform(5, 25) / w.mm_per_px, 3, 40))
        n = int(rng.integers(1, 12))
        w.patch = np.maximum(w.patch, surface.popouts(rng, w.rgb, n, r, w.light_rad))


def _add_spalls(rng: Rng, w: _Work) -> None:
    lines = list(w.joint_layout.ribbons) + w.cracks
    if lines and rng.random() < 0.2:
        _spall_beside(rng, w, lines, int(rng.integers(1, 6)), 0.45)


def _spall_beside(rng: Rng, w: _Work, lines: list[Ribbon], count: int, beside: float) -> None:
    """Breaks pieces off the edges of lines; `beside` is the offset in depths of the piece."""
    rings = []
    for _ in range(count):
        r = lines[int(rng.integers(len(lines)))]
        if len(r.centre_px) < 4:
            continue
        i = int(rng.integers(1, len(r.centre_px) - 1))
        d = r.centre_px[min(i + 4, len(r.centre_px) - 1)] - r.centre_px[max(i - 4, 0)]
        depth = float(np.exp(rng.uniform(math.log(4), math.log(40))))
        side = rng.choice([-1, 1]) * (r.width_px[i] / 2 + depth * beside)
        n = np.array([d[1], -d[0]]) / max(float(np.hypot(*d)), 1e-6)
        rings.append(
            damage.spall_ring(
                rng, r.centre_px[i] + n * side, math.atan2(d[1], d[0]), depth * rng.uniform(1.2, 4), depth
            )
        )
    if rings:
        w.patch = np.maximum(w.patch, damage.spall(rng, w.rgb, rings, w.grain_px, w.light_rad))


def _draw_cracks(rng: Rng, w: _Work, groups: list[tuple[str, list[Ribbon]]]) -> None:
    base = w.rgb.mean(axis=(0, 1))
    for kind, ribbons in groups:
        if not ribbons:
            continue
        width = float(np.median(np.concatenate([r.width_px for r in ribbons])))
        if kind == "deep":
            depth.draw_deep(w.rgb, ribbons, rng, w.light_rad)
        else:
            look = cracks.random_look(rng, kind, width, base)
            cracks.draw(w.rgb, ribbons, look, rng, w.light_rad)
        if kind == "vegetated":
            for r in ribbons:
                joints.tufts(rng, w.rgb, r, rng.uniform(0.3, 1.0))
        if kind == "spalled":
            _spall_beside(rng, w, ribbons, int(rng.integers(3, 14)), 0.35)
        w.cracks += ribbons


def _draw_joints(rng: Rng, w: _Work) -> None:
    base = w.rgb.mean(axis=(0, 1))
    looks: dict[str, joints.JointLook] = {}
    for r in w.joint_layout.ribbons:
        if r.kind not in looks or rng.random() < 0.15:
            width = float(np.median(r.width_px))
            looks[r.kind] = joints.random_look(rng, r.kind, width, base, w.mm_per_px)
        joints.draw(w.rgb, r, looks[r.kind], rng, w.light_rad)


def _add_marks(rng: Rng, w: _Work) -> None:
    """Rings, plugs, scratches and holes: of the trained style only, the other one has its own."""
    if w.style.number != 1:
        return
    for _ in range(min(int(rng.poisson(0.3)), 3)):
        marks.MARKS[int(rng.integers(len(marks.MARKS)))](rng, w.rgb, w.light_rad)
    if rng.random() < 0.09:
        near = [r.centre_px for r in w.cracks if len(r.centre_px) > 4]
        w.patch = np.maximum(w.patch, marks.cavities(rng, w.rgb, w.light_rad, near))


def _add_edge(rng: Rng, w: _Work) -> None:
    """The slab ends: other ground beyond a line, sometimes with a step's shade along it."""
    size = w.rgb.shape[0]
    shape = (size, size)
    a = rng.uniform(0, 2 * math.pi)
    n = np.array([math.cos(a), math.sin(a)])
    t = np.array([-n[1], n[0]])
    p = np.array([size / 2, size / 2]) + n * size * rng.uniform(0.15, 0.5)
    k = int(size / 4)
    s = np.linspace(-size, size, k)
    kind = str(rng.choice(grounds.BESIDE))
    rough = rng.uniform(0.2, 2.0) if kind in ("brick", "wood", "asphalt") else rng.uniform(0.5, 9)
    edge = p + t * s[:, None] + n * (fractal_1d(rng, k, rng.uniform(3, 14), 3) * rough)[:, None]
    ring = np.concatenate([edge, (edge + n * 3 * size)[::-1]])
    stamp = cover([ring], shape)
    if stamp.empty:
        return
    beyond = full(stamp, shape)
    riser = rng.uniform(1, 10)
    if rng.random() < 0.2:  # a step up or down to another slab
        other = w.style.concrete(rng, shape, w.mm_per_px, w.light_rad)
        w.step, riser = beyond, float(np.exp(rng.uniform(math.log(2), math.log(60))))
    elif rng.random() < 0.12:
        other = grounds.smooth(rng, shape)  # a painted wall
    else:
        other = grounds.GROUNDS[kind](rng, shape)
    shade = cv2.GaussianBlur(beyond, (0, 0), rng.uniform(1, 6))
    w.rgb *= 1 - (shade * (1 - beyond) * np.float32(rng.uniform(0, 0.6)))[..., None]
    w.rgb += beyond[..., None] * (other - w.rgb)
    if rng.random() < 0.6:  # the side of the slab or step, lit or in shade
        gain(w.rgb, cover([ribbon(edge, riser)], shape), rng.choice([0.3, 0.55, 0.75, 1.2]))
    w.outside = np.maximum(w.outside, beyond)


def _add_objects(rng: Rng, w: _Work, mean_count: float) -> None:
    names = list(objects.OBJECTS)
    p = np.array([0.18, 0.16, 0.12, 0.08, 0.14, 0.06, 0.04, 0.03, 0.04, 0.04, 0.05, 0.06])
    for _ in range(min(int(rng.poisson(mean_count)), 4)):
        name = str(rng.choice(names, p=p))
        w.hidden = np.maximum(w.hidden, objects.OBJECTS[name](rng, w.rgb, w.light_rad))


def _photograph(rng: Rng, w: _Work) -> U8:
    size = w.rgb.shape[0]
    if rng.random() < 0.3:
        w.rgb *= w.style.shadow(rng, (size, size))
        if rng.random() < 0.25:
            w.rgb *= w.style.shadow(rng, (size, size))
    if rng.random() < 0.7:
        w.rgb *= camera.uneven_light(rng, (size, size), rng.uniform(0.0, 0.22))[..., None]
    return w.style.photograph(w.rgb, rng)


def render_tile(seed: int, style: str = "train", size_px: int = 512) -> RenderedTile:
    """Draws the tile of a seed; the same arguments give the same bytes.

    `style` is "train" or "holdout" (other noise, camera and stains; for evaluation only).
    Raises ValueError for another style.
    """
    kit = style_of(style)
    rng = generator(seed, kit.number)
    shape = (size_px, size_px)
    light = rng.uniform(0, 2 * math.pi)
    subject_draw = rng.random()
    subject = "other" if subject_draw < 0.12 else "asphalt" if subject_draw < 0.17 else "slab"
    width_px = _crack_width(rng)
    mm_per_px = float(np.clip(rng.lognormal(math.log(1.6), 0.7) / width_px, 0.1, 3.5))
    if rng.random() < 0.12:  # seen from afar: many panels, fine lines
        mm_per_px, width_px = rng.uniform(2.5, 8.0), float(np.exp(rng.uniform(-0.4, 1.1)))
    grain_px = float(np.clip(1.2 / mm_per_px, 1.0, 10.0))
    pose = _pose(rng, size_px)
    plan_shape = shape if pose is None else (round(size_px * 1.3),) * 2
    if subject == "other":
        name = str(rng.choice(list(grounds.GROUNDS), p=grounds.SHARES))
        rgb, subject = grounds.GROUNDS[name](rng, plan_shape), name
    elif subject == "asphalt":
        rgb = grounds.asphalt(rng, plan_shape)
    else:
        rgb = kit.concrete(rng, plan_shape, mm_per_px, light)
    rgb = np.ascontiguousarray(_warp(rgb, pose, size_px), np.float32)
    work = _Work(
        rgb, light, mm_per_px, grain_px, _blank(size_px), _blank(size_px), _blank(size_px), _blank(size_px),
        kit, JointLayout((), (), ()), [],
    )  # fmt: skip
    cracked = subject in ("slab", "asphalt") and rng.random() < 0.76
    if subject in ("slab", "asphalt"):
        if subject == "slab":
            _add_patches(rng, work)
            _add_stains(rng, work, 0.9)
            if rng.random() < 0.58:
                work.joint_layout = lay_joints(rng, size_px, mm_per_px, lambda q: apply(pose, q))
                for tone_ring, factor in work.joint_layout.panels:
                    stamp = cover([tone_ring], shape)
                    if not stamp.empty:
                        work.rgb[stamp.window] *= 1 + stamp.alpha[..., None] * np.float32(factor - 1)
        groups = []
        if cracked:
            groups = plan_cracks(
                rng, size_px, width_px, grain_px, work.joint_layout, lambda q: apply(pose, q), kit.course
            )
        first = rng.random() < 0.7
        if first:
            _draw_cracks(rng, work, groups)
        _draw_joints(rng, work)
        if not first:
            _draw_cracks(rng, work, groups)
        _add_spalls(rng, work)
        _add_stains(rng, work, 0.35)
        _add_marks(rng, work)
        if rng.random() < 0.14:
            _add_edge(rng, work)
    if rng.random() < 0.3:
        _add_objects(rng, work, 1.3)
    if width_px > 9 and rng.random() < 0.4:
        depth.soften(work.rgb, rng)
    rgb8 = _photograph(rng, work)
    return _finish(rgb8, work, subject)


def _crack_width(rng: Rng) -> float:
    """Opening in px: hairlines to wide gaps."""
    u = rng.random()
    low, high = (0.6, 1.6) if u < 0.28 else (1.5, 4) if u < 0.6 else (4, 10) if u < 0.8 else (10, 45)
    return float(np.exp(rng.uniform(math.log(low), math.log(high))))


def _finish(rgb8: U8, w: _Work, subject: str) -> RenderedTile:
    size = rgb8.shape[0]
    shape = (size, size)
    crack = mask_of(w.cracks, shape)
    joint = mask_of(w.joint_layout.ribbons, shape)
    gone = (w.hidden > 0.4) | (w.outside > 0.5)
    lost = ((crack > 0) & gone & (w.outside <= 0.5)).astype(np.uint8)
    lost |= ((crack > 0) & (joint > 0)).astype(np.uint8)
    for mask in (crack, joint):
        mask[gone] = 0
    patch = ((w.patch > 0.5) & ~gone).astype(np.uint8) * np.uint8(255)
    bare = (w.hidden > 0.4) | ((w.outside > 0.5) & (w.step <= 0.5))
    slab = np.where(bare | (subject != "slab"), 0, 255).astype(np.uint8)
    gray = cv2.cvtColor(rgb8, cv2.COLOR_RGB2GRAY).astype(np.float32)
    centre = centre_mask(w.cracks, shape)
    centre[gone] = 0
    return RenderedTile(
        rgb=rgb8, crack=crack, joint=joint, patch=patch, slab=slab,
        crack_weight=crack_weight(gray, crack, lost),
        crack_width_px=width_map(w.cracks, crack), crack_centre=centre,
        cracks=tuple(w.cracks), joints=tuple(w.joint_layout.ribbons),
        joint_kinds=tuple(r.kind for r in w.joint_layout.ribbons),
        subject=subject, mm_per_px=w.mm_per_px,
    )  # fmt: skip
