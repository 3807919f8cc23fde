"""The equations: residuals vanish on the truth, derivatives are the numerical ones."""

from dataclasses import replace

import numpy as np
import pytest

from analyzer import frames
from analyzer.calibrate.network import (
    CameraBody,
    MarkBody,
    Network,
    SheetBody,
    TapeBody,
    equations,
    rigid_pose,
    sheet_corners,
    start_unknowns,
)

TRUTH = np.array([[-0.03, -0.42, 1500.0], [0.45, 0.02, 100.0], [2e-5, 1.3e-4, 1.0]])
LOCAL = np.array([[-96.0, 96.0], [96.0, 96.0], [96.0, -96.0], [-96.0, -96.0]])


@pytest.fixture
def network() -> Network:
    def body(name: str, x: float, y: float, turn: float, scale: float, group: int) -> SheetBody:
        px = frames.apply(TRUTH, sheet_corners(LOCAL, np.array([x, y, turn]), scale))
        growth = np.array([[-1.0, -1.0], [-1.0, 1.0], [1.0, 1.0], [1.0, -1.0]])
        return SheetBody(name, LOCAL, px, np.full(4, 0.3), growth, group, (x, y), 10.0, turn, 0.03)

    places = [(2600.0, 500.0), (400.0, 1900.0), (2500.0, 2000.0)]
    seen = frames.apply(TRUTH, places)
    return Network(
        sheets=(body("sheet 1", 400, 500, 0.3, 1.0, 0), body("sheet 2", 2500, 1700, 3.0, 0.97, 1)),
        scales=((1.0, 0.01), (0.97, 0.005)),
        marks=tuple(
            MarkBody(n, (float(r), float(c)), 2.0, p if n != "m3" else None, 10.0)
            for n, (r, c), p in zip(("m1", "m2", "m3"), seen, places, strict=True)
        ),
        tapes=(TapeBody(0, 2, float(np.hypot(100, 1500)), 4.0),),
    )


def test_truth_leaves_no_residual(network: Network) -> None:
    unknowns, to_plan, to_px = start_unknowns(network, TRUTH)
    unknowns[network.sheet_at(1) :][:3] = 2500, 1700, 3.0
    eq = equations(network, unknowns, to_plan, to_px)
    assert eq is not None
    assert np.abs(eq.residuals).max() < 1e-6
    assert len(eq.labels) == len(eq.residuals)
    kinds = [kind for kind, _ in eq.labels]
    assert {k: kinds.count(k) for k in set(kinds)} == {
        "corner": 16, "pick": 6, "growth": 1, "scale": 2, "place": 8, "turn": 2, "tape": 1,
    }  # fmt: skip


@pytest.mark.parametrize("camera", [None, CameraBody(900.0, 0.06, (550.0, 700.0), 20.0)])
def test_derivatives_are_the_numerical_ones(network: Network, camera: CameraBody | None) -> None:
    network = replace(network, camera=camera)
    unknowns, to_plan, to_px = start_unknowns(network, TRUTH)
    unknowns = unknowns + np.random.default_rng(2).normal(0, 1e-3, len(unknowns)) * np.maximum(
        np.abs(unknowns), 0.1
    )
    eq = equations(network, unknowns, to_plan, to_px)
    assert eq is not None
    for k in range(network.n_unknowns):
        step = np.zeros(len(unknowns))
        step[k] = 1e-6 * max(1.0, abs(unknowns[k]))
        plus, minus = (equations(network, unknowns + s * step, to_plan, to_px) for s in (1, -1))
        assert plus is not None
        assert minus is not None
        numeric = (plus.residuals - minus.residuals) / (2 * step[k])
        np.testing.assert_allclose(
            eq.derivatives[:, k], numeric, rtol=1e-4, atol=1e-5 * np.abs(numeric).max() + 1e-8
        )


def test_points_behind_the_camera_are_no_equations(network: Network) -> None:
    unknowns, to_plan, to_px = start_unknowns(network, TRUTH)
    unknowns[7] = -5.0
    assert equations(network, unknowns, to_plan, to_px) is None


def test_rigid_pose_inverts_sheet_corners() -> None:
    pose = np.array([123.0, -456.0, 2.5])
    np.testing.assert_allclose(rigid_pose(LOCAL[:3], sheet_corners(LOCAL[:3], pose, 1.0)), pose, atol=1e-9)


def test_a_pinhole_camera_leaves_no_camera_residual(kit) -> None:
    # The projection of a pinhole camera with square pixels fulfils Zhang's two conditions exactly.
    truth = kit.camera(eye_mm=(900, -700, 1500), look_at_mm=(1200, 800), focal_px=620, size=(600, 800))
    local = np.array([[900.0, 300.0], [1500.0, 300.0], [1500.0, 1000.0], [900.0, 1000.0]])
    seen = frames.apply(truth, local)
    marks = tuple(
        MarkBody("ABCD"[i], (float(r), float(c)), 1.0, (float(x), float(y)), 1.0)
        for i, ((r, c), (x, y)) in enumerate(zip(seen, local, strict=True))
    )
    for focal_px, fits in ((620.0, True), (700.0, False)):
        one = Network(marks=marks, camera=CameraBody(focal_px, 0.06, (299.5, 399.5), 8.0))
        eq = equations(one, *start_unknowns(one, truth))
        assert eq is not None
        rest = np.abs([v for v, label in zip(eq.residuals, eq.labels, strict=True) if label[0] == "camera"])
        assert (rest.max() < 1e-6) == fits
