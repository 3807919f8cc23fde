"""Probabilities of whole lines: what speaks for and against; the logistic itself against scipy."""

import json

import numpy as np
import pytest
from scipy.special import expit, logit

from analyzer.detect.evidence import (
    CRACK_FEATURES,
    JOINT_FEATURES,
    MODEL_FILE,
    LineModel,
    crack_features,
    joint_features,
    load_model,
)
from analyzer.detect.graph import Branch
from analyzer.detect.joint_lines import JointLine
from analyzer.errors import RuleError
from analyzer.records.picture import ScoreMaps
from analyzer.terms import DetectMethod

NETWORK = DetectMethod.NETWORK


def line(length=400, **changes):
    points = np.stack([np.full(length, 150.0), np.arange(float(length))], axis=1)
    values = {"half_px": 2.0, "support": 1.0, "joint": 0.8, "crack": 0.1, "rms_px": 0.4, "bends": 0}
    return JointLine(points=points, **(values | changes))


def joint_probability(**changes):
    return load_model(NETWORK).joint_probability(joint_features([line(**changes)]))[0]


def run(row_of, half=2.0, n=200):
    cols = np.arange(20, 20 + n)
    points = np.stack([np.rint(row_of(cols)).astype(np.int64), cols], axis=1)
    return Branch(points, np.full(n, half, np.float32), 0, 1)


def maps(crack_score, joint_score, line_run=None, crowd=0):
    """Scores along a run, five pixels wide, and every ``crowd`` rows besides."""
    crack, joint = np.zeros((300, 400), np.uint8), np.zeros((300, 400), np.uint8)
    if line_run is not None:
        for k in range(-2, 3):
            crack[line_run.points[:, 0] + k, line_run.points[:, 1]] = crack_score
            joint[line_run.points[:, 0] + k, line_run.points[:, 1]] = joint_score
    if crowd:
        crack[::crowd] = np.maximum(crack[::crowd], crack_score)
    return ScoreMaps(crack=crack, joint=joint, method=NETWORK)


def zigzag(cols):
    return 150 + 9 * np.sin(cols / 11.0) + 5 * np.sin(cols / 29.0)


def crack_probability(crack_score, joint_score, row_of=zigzag, n=200, rejected=()):
    line_run = run(row_of, n=n)
    features = crack_features([line_run], maps(crack_score, joint_score, line_run), rejected)
    return load_model(NETWORK).crack_probability(features)[0]


def test_probabilities_are_logistic():
    model = LineModel(
        tuple(np.linspace(-1, 1, len(JOINT_FEATURES))), tuple(np.linspace(-1, 1, len(CRACK_FEATURES)))
    )
    x = np.random.default_rng(0).normal(size=(7, len(JOINT_FEATURES)))
    assert model.joint_probability(x) == pytest.approx(expit(x @ np.array(model.joint)))
    x = np.random.default_rng(1).normal(size=(7, len(CRACK_FEATURES)))
    assert model.crack_probability(x) == pytest.approx(expit(x @ np.array(model.crack)))


@pytest.mark.parametrize("method", list(DetectMethod))
def test_the_fitted_signs_are_those_that_make_sense(method):
    model = load_model(method)
    for fitted, signs in ((model.joint, JOINT_FEATURES), (model.crack, CRACK_FEATURES)):
        for value, sign in zip(fitted, signs.values(), strict=True):
            assert value * sign >= 0


def test_what_speaks_for_a_joint():
    base = joint_probability(joint=0.6, crack=0.4)
    assert joint_probability(joint=0.9, crack=0.4) > base
    assert joint_probability(joint=0.6, crack=0.4, length=120) < base
    assert joint_probability(joint=0.6, crack=0.4, rms_px=4.0) <= base
    assert joint_probability(joint=0.6, crack=0.4, reaches=2) >= base
    assert joint_probability(joint=0.95, crack=0.02, reaches=2) > 0.8
    assert joint_probability(joint=0.3, crack=0.7, length=70, rms_px=3.0, bends=2, astray=1.0) < 0.2


def test_what_speaks_for_a_crack():
    base = crack_probability(140, 20)
    assert crack_probability(230, 5) > 0.8
    assert crack_probability(230, 5) > base
    assert crack_probability(140, 20, n=20) <= base
    assert crack_probability(60, 5) < min(base, 0.5)
    assert crack_probability(5, 250, lambda cols: np.full(len(cols), 150.0)) < 0.4


def feature(name, line_run, score_maps, rejected=()):
    return crack_features([line_run], score_maps, rejected)[0, list(CRACK_FEATURES).index(name)]


def test_crowding_is_the_share_of_line_pixels_around():
    line_run = run(zigzag)
    alone = feature("crowding", line_run, maps(180, 5, line_run))
    every_second = feature("crowding", line_run, maps(180, 5, line_run, 2))
    assert alone == pytest.approx(0.0, abs=0.06)
    assert every_second == pytest.approx(0.5, abs=0.1)


def test_a_run_on_a_line_that_nearly_passed_for_a_joint_says_so():
    line_run = run(lambda cols: np.full(len(cols), 150.0))
    score_maps = maps(120, 120, line_run)
    assert feature("on a likely joint", line_run, score_maps) == -4.0
    near = [line(probability=0.45)]
    assert feature("on a likely joint", line_run, score_maps, near) == pytest.approx(logit(0.45))
    assert feature("on a likely joint", run(zigzag), score_maps, near) == -4.0


def test_a_wavy_run_is_less_straight():
    straight = run(lambda cols: np.full(len(cols), 150.0))
    assert feature("straightness", straight, maps(200, 0)) > 1.0
    assert feature("straightness", run(zigzag), maps(200, 0)) < 0.5


def test_no_lines_no_features():
    assert joint_features([]).shape == (0, len(JOINT_FEATURES))
    assert crack_features([], maps(0, 0), []).shape == (0, len(CRACK_FEATURES))


@pytest.mark.parametrize("damage", ["missing", "text", "feature"])
def test_a_damaged_model_file_is_told(tmp_path, damage):
    path = tmp_path / "line_model.json"
    if damage == "text":
        path.write_text("{")
    if damage == "feature":
        known = json.loads(MODEL_FILE.read_text())
        known["network"]["joint"]["colour"] = 1.0
        path.write_text(json.dumps(known))
    with pytest.raises(RuleError, match="line model"):
        load_model(NETWORK, path)
