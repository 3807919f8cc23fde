"""Photographs of a whole slab described in plan millimetres, with exact truth."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import cv2
import numpy as np

from . import camera as photo_chain
from . import cracks, curves, damage, joints, objects, shadows, walls
from .camera import CameraLook
from .curves import F64
from .ground_plane import BAND_ROWS, RASTER_MM, band_plan, draw_surfaces, slab_level
from .noise import F32, generator, lattice
from .plan import CrackPlan, JointPlan, ShadowPlan, SheetPlan, SlabScene
from .projection import Camera
from .raster import Stamp, blend, cover, full, gain, normals
from .truth import U8, Ribbon, mask_of

Rng = np.random.Generator


@dataclass(frozen=True, slots=True)
class LineTruth:
    """A crack or joint as drawn: the same points in plan mm (x, y) and in pixels (row, col)."""

    name: str
    kind: str
    centre_mm: F64
    left_mm: F64
    right_mm: F64
    width_mm: F64
    px: tuple[Ribbon, ...]

    @property
    def length_mm(self) -> float:
        """Length of the centreline."""
        return curves.length_of(self.centre_mm)


@dataclass(frozen=True, slots=True)
class RenderedPhoto:
    """A photograph and its truth.

    `plan_from_px` maps ideal pixels (row, col, 1) to (x_mm, y_mm, w); real pixels are ideal ones
    moved by `camera.distort` (no difference without lens distortion). `hidden` is 255 where a
    thing lies on the slab.
    """

    rgb: U8
    camera: Camera
    plan_from_px: F64
    cracks: tuple[LineTruth, ...]
    joints: tuple[LineTruth, ...]
    outline_mm: F64
    outline_px: F64
    hidden: U8

    def crack_mask(self) -> U8:
        """0/255 mask of the cracks, hairlines at least about 1.6 px wide."""
        return mask_of([r for c in self.cracks for r in c.px], self.hidden.shape)

    def joint_mask(self) -> U8:
        """0/255 mask of the joints."""
        return mask_of([r for j in self.joints for r in j.px], self.hidden.shape)

    def slab_mask(self) -> U8:
        """0/255 mask of the slab's surface."""
        shape = (self.hidden.shape[0], self.hidden.shape[1])
        inside = full(cover([self.outline_px], shape), shape) >= 0.5
        return np.where(inside, 255, 0).astype(np.uint8)


def phone_look(seed: int, mean_level: float = 0.3) -> CameraLook:
    """A decent phone in daylight: slight blur, noise, sharpening; no JPEG of its own."""
    rng = generator(seed, 77)
    return CameraLook(
        exposure=0.32 / max(mean_level, 0.02),
        white_balance=(rng.uniform(0.97, 1.04), 1.0, rng.uniform(0.95, 1.04)),
        blur_px=rng.uniform(0.35, 0.6), vignette=rng.uniform(0, 0.1), noise=rng.uniform(0.003, 0.008),
        bayer=True, gamma="srgb", curve=rng.uniform(0.05, 0.3), sharpen=rng.uniform(0.1, 0.5),
    )  # fmt: skip


def render_photo(
    scene: SlabScene, camera: Camera, seed: int, look: CameraLook | None = None
) -> RenderedPhoto:
    """Photographs a scene; the same arguments give the same bytes.

    `look` is the photographic chain (a phone drawn from the seed when None; `camera.PLAIN` of the
    render package gives linear light without noise or blur).
    """
    shape = camera.size_px
    rgb = draw_surfaces(scene, camera, seed)
    _damage(scene, camera, seed, rgb)
    crack_truth = tuple(
        _crack(plan, camera, generator(seed, 10, k), rgb) for k, plan in enumerate(scene.cracks)
    )
    base = slab_level(scene, camera, rgb)
    joint_truth = tuple(
        _joint(plan, camera, generator(seed, 20, k), seed, base, rgb) for k, plan in enumerate(scene.joints)
    )
    hidden = np.zeros(shape, np.uint8)
    for sheet in scene.sheets:
        _sheet(sheet, camera, rgb, hidden)
    _objects(scene, camera, seed, rgb, hidden)
    for k, shadow in enumerate(scene.shadows):
        _shadow(shadow, scene, camera, generator(seed, 40, k), rgb)
    for k, wall in enumerate(scene.walls):
        walls.draw(wall, camera, generator(seed, 60, k), rgb)
    if look is None:
        look = phone_look(seed, float(base.mean()))
    outline = np.array(scene.outline_mm, dtype=np.float64)
    picture = photo_chain.expose(rgb, look, generator(seed, 50))
    return RenderedPhoto(
        picture, camera, camera.plan_from_px, crack_truth, joint_truth, outline,
        camera.ring_px(outline), hidden,
    )  # fmt: skip


# --- lines ---------------------------------------------------------------------------------------


def _pieces(camera: Camera, line: LineTruthMm, kind: str, points: int = 90) -> tuple[Ribbon, ...]:
    """The band in pixels, in overlapping-free pieces, without what lies behind the camera."""
    centre, left, right = line
    rows, cols = camera.size_px
    ok = (camera.depth(centre) > 0.02 * camera.position_mm[2]) & (
        camera.depth(left) > 0) & (camera.depth(right) > 0)  # fmt: skip
    out = []
    for i in range(0, len(centre) - 1, points):
        s = slice(i, min(i + points + 1, len(centre)))
        if not ok[s].all():
            continue
        c, a, b = (camera.project(p[s]) for p in (centre, left, right))
        if (c.max(axis=0) < -50).any() or c[:, 0].min() > rows + 50 or c[:, 1].min() > cols + 50:
            continue
        out.append(Ribbon(kind, c, a, b, np.hypot(*(a - b).T)))
    return tuple(out)


LineTruthMm = tuple[F64, F64, F64]


def _crack(plan: CrackPlan, camera: Camera, rng: Rng, rgb: F32) -> LineTruth:
    pts = np.array(plan.points_mm, dtype=np.float64)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(pts, axis=0).T))])
    given = np.broadcast_to(np.asarray(plan.width_mm, dtype=np.float64), (len(pts),))
    if plan.roughness > 0:
        k = plan.roughness
        style = cracks.CrackStyle(
            float(given.mean()), 0.35 * k, 0.7 * k, 30.0, 0.8 * k, 0.45 * k, 0.45 * k,
            grain_px=5.0,
        )  # fmt: skip
        parts = [cracks.course(rng, style, a, b) for a, b in itertools.pairwise(pts)]
        line = curves.resample(np.concatenate([p[:-1] for p in parts] + [pts[-1:]]), 2.0)
        n = len(line)
        width = np.interp(np.linspace(0, along[-1], n), along, given)
        width = width * np.exp(style.vary * curves.fractal_1d(rng, n, 40.0, 2) - style.vary**2 / 2)
        rough = style.ragged * np.minimum(width, 2.0 + 0.3 * width) * 0.6
        left = np.maximum(width / 2 + rough * curves.fractal_1d(rng, n, 4.0, 3), 0.06 * width)
        right = np.maximum(width / 2 + rough * curves.fractal_1d(rng, n, 4.0, 3), 0.06 * width)
    else:
        line = curves.resample(pts, 5.0)
        width = np.interp(np.linspace(0, along[-1], len(line)), along, given)
        left = right = width / 2
    n_vec = normals(line)
    left_mm, right_mm = line - n_vec * left[:, None], line + n_vec * right[:, None]
    centre = (left_mm + right_mm) / 2
    ribbons = _pieces(camera, (centre, left_mm, right_mm), plan.kind)
    _paint_crack(plan, ribbons, rng, rgb)
    return LineTruth(plan.name, plan.kind, centre, left_mm, right_mm, left + right, ribbons)


def _paint_crack(plan: CrackPlan, ribbons: tuple[Ribbon, ...], rng: Rng, rgb: F32) -> None:
    shape = (rgb.shape[0], rgb.shape[1])
    block = 128
    touched: set[tuple[int, int]] = set()
    alpha = np.zeros(shape, np.float32)
    for r in ribbons:
        stamp = cover([r.ring], shape)
        if stamp.empty:
            continue
        alpha[stamp.window] += stamp.alpha
        h, w = stamp.alpha.shape
        touched |= {
            (i, j)
            for i in range(stamp.row // block, (stamp.row + h - 1) // block + 1)
            for j in range(stamp.col // block, (stamp.col + w - 1) // block + 1)
        }
        if plan.roughness > 0 and plan.kind in ("dark", "dirt_filled", "vegetated"):
            wide = float(np.median(r.width_px))
            band = cover([r.widened(wide + 3.0)], shape)
            soft = cv2.GaussianBlur(band.alpha, (0, 0), 1.2)
            gain(rgb, Stamp(band.row, band.col, soft), 1 - 0.10 * plan.roughness)
    tint = {"light_filled": 1.5, "dirt_filled": 0.45}.get(plan.kind)
    for i, j in sorted(touched):
        window = (slice(i * block, (i + 1) * block), slice(j * block, (j + 1) * block))
        a = np.minimum(alpha[window], 1.0)[..., None]
        if plan.roughness > 0 and plan.kind != "sealed":
            own = 1 + 0.15 * plan.roughness * lattice(rng, a.shape[:2], (9.0, 9.0))[..., None]
        else:
            own = np.ones((1, 1, 1), np.float32)
        keep = np.float32(tint if tint is not None else 1 - plan.darkness)
        view = rgb[window]
        view *= 1 - a * (1 - keep * own)
    if plan.kind == "vegetated":
        for r in ribbons:
            joints.tufts(rng, rgb, r, 0.6)


def _joint(plan: JointPlan, camera: Camera, rng: Rng, seed: int, base: F32, rgb: F32) -> LineTruth:
    a, b = np.array(plan.start_mm, dtype=np.float64), np.array(plan.end_mm, dtype=np.float64)
    drawn = joints.lay(rng, plan.kind, a, b, plan.width_mm)
    line: LineTruthMm = (drawn.centre_px, drawn.left_px, drawn.right_px)
    _rows, _cols = camera.size_px
    ribbons = _pieces(camera, line, plan.kind, 60)
    if ribbons:
        mid = ribbons[len(ribbons) // 2]
        near = plan.width_mm / max(float(np.median(mid.width_px)), 1e-6)
        number = joints.JOINT_KINDS.index(plan.kind)
        look = joints.random_look(
            generator(seed, 21, number), plan.kind, float(np.median(mid.width_px)), base, near
        )
        for r in ribbons:
            joints.draw(rgb, r, look, rng, 0.8)
    return LineTruth(plan.name, plan.kind, *line, drawn.width_px, ribbons)


# --- damage, things and shadows ------------------------------------------------------------------


def _damage(scene: SlabScene, camera: Camera, seed: int, rgb: F32) -> None:
    for k, spall in enumerate(scene.spalls):
        rng = generator(seed, 30, k)
        ring_mm = curves.resample(np.array([*spall.outline_mm, spall.outline_mm[0]], float), 12.0)[:-1]
        if spall.kind in ("spall", "scaling"):
            ring_mm = ring_mm + rng.normal(0, 4.0, ring_mm.shape)
        ring = camera.ring_px(ring_mm)
        if not len(ring):
            continue
        grain = max(2.0 / camera.mm_per_px(ring.mean(axis=0)), 1.0)
        if spall.kind == "spall":
            damage.spall(rng, rgb, [ring], grain, 0.8)
        elif spall.kind == "scaling":
            damage.scaling(rng, rgb, ring, grain, 0.8)
        else:
            damage.patch(rng, rgb, ring, grain, 0.8)


def _objects(scene: SlabScene, camera: Camera, seed: int, rgb: F32, hidden: U8) -> None:
    rows, cols = camera.size_px
    for k, thing in enumerate(scene.objects):
        at = np.array([thing.at_mm], dtype=np.float64)
        if camera.depth(at)[0] <= 0:
            continue
        mid = camera.project(at)[0]
        half = thing.size_mm / 2 / camera.mm_per_px(mid)
        r0, c0 = (max(int(v - half), 0) for v in mid)
        r1, c1 = min(int(mid[0] + half) + 1, rows), min(int(mid[1] + half) + 1, cols)
        if r1 - r0 < 12 or c1 - c0 < 12:
            continue
        window = np.ascontiguousarray(rgb[r0:r1, c0:c1])
        seen = objects.OBJECTS[thing.kind](generator(seed, 31, k), window, 0.8)
        rgb[r0:r1, c0:c1] = window
        hidden[r0:r1, c0:c1] |= np.where(seen > 0.4, 255, 0).astype(np.uint8)


def _sheet(sheet: SheetPlan, camera: Camera, rgb: F32, hidden: U8) -> None:
    """Lays a printed sheet: every sub-pixel looks up its point of the print."""
    corners = np.array(sheet.corners_mm, dtype=np.float64)
    if (camera.depth(corners) <= 0).any():
        return
    shape = (rgb.shape[0], rgb.shape[1])
    ring = camera.ring_px(corners)
    paper = cover([ring], shape)
    if paper.empty:
        return
    objects.drop_shadow(rgb, paper, 0.8, 1.0, 0.25)
    h, w = sheet.image.shape
    box = np.array([[-0.5, -0.5], [w - 0.5, -0.5], [w - 0.5, h - 0.5], [-0.5, h - 0.5]], np.float32)
    to_print = cv2.getPerspectiveTransform(corners.astype(np.float32), box)
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    finer = 4
    px_mm = camera.mm_per_px(ring.mean(axis=0)) / finer
    shrink = max(1.0, px_mm / (float(sides.max()) / max(h, w)))
    image = cv2.GaussianBlur(sheet.image.astype(np.float32), (0, 0), 0.45 * shrink) if shrink > 1.2 \
        else sheet.image.astype(np.float32)  # fmt: skip
    rows, cols = paper.alpha.shape
    r = (np.arange(rows * finer) + 0.5) / finer - 0.5 + paper.row
    c = (np.arange(cols * finer) + 0.5) / finer - 0.5 + paper.col
    grid = np.stack(np.meshgrid(r, c, indexing="ij"), axis=-1).reshape(-1, 2)
    plan = camera.locate(grid)
    q = plan @ to_print[:, :2].T + to_print[:, 2]
    at = (q[:, :2] / q[:, 2:]).astype(np.float32).reshape(rows * finer, cols * finer, 2)
    ink = cv2.remap(image, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    ink = cv2.resize(ink, (cols, rows), interpolation=cv2.INTER_AREA)
    blend(rgb, paper, (0.03 + 0.75 * ink / 255)[..., None].repeat(3, axis=2).astype(np.float32))
    hidden[paper.window] |= np.where(paper.alpha > 0.5, 255, 0).astype(np.uint8)


def _shadow(plan: ShadowPlan, scene: SlabScene, camera: Camera, rng: Rng, rgb: F32) -> None:
    rows, cols = camera.size_px
    sky = np.array([0.95, 0.99, 1.1], np.float32) * np.float32(plan.ambient) - 1
    if plan.kind == "polygon":
        stamp = cover([camera.ring_px(np.array(plan.outline_mm, float))], (rows, cols))
        soft = plan.soft_mm / camera.mm_per_px(np.array([rows * 0.6, cols / 2]))
        dark = full(stamp, (rows, cols))
        if soft > 0.3:
            dark = cv2.GaussianBlur(dark, (0, 0), soft)
        for row0 in range(0, rows, BAND_ROWS):
            s = slice(row0, row0 + BAND_ROWS)
            rgb[s] *= 1 + dark[s, :, None] * sky
        return
    low, high = scene.box_mm
    margin = 0.3 * (high - low)
    low, high = low - margin, high + margin
    span = (high - low) / RASTER_MM
    field = shadows.SHADOWS[plan.kind](rng, (int(span[1]) + 2, int(span[0]) + 2))
    field = cv2.GaussianBlur(field, (0, 0), max(plan.soft_mm / RASTER_MM, 0.6))
    for row0 in range(0, rows, BAND_ROWS):
        row1 = min(row0 + BAND_ROWS, rows)
        x, y, _, _ = band_plan(camera, row0, row1)
        u = (x - np.float32(low[0])) / np.float32(RASTER_MM)
        v = (y - np.float32(low[1])) / np.float32(RASTER_MM)
        dark = cv2.remap(field, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
        rgb[row0:row1] *= 1 + dark[..., None] * sky
