"""Fitting of whole-line probabilities; the minimum is checked with scipy's own unconstrained search."""

import json

import numpy as np
import pytest
from scipy.optimize import minimize

from analyzer.detect.evidence import CRACK_FEATURES, JOINT_FEATURES, load_model
from analyzer.records.picture import ScoreMaps
from analyzer.terms import DetectMethod
from analyzer.training.line_fit import (
    RIDGE,
    Examples,
    Truth,
    crack_examples,
    drawn_truths,
    fit,
    joint_examples,
    logistic_fit,
    write_model,
)


def examples(n=400, seed=0):
    rng = np.random.default_rng(seed)
    x = np.column_stack([np.ones(n), rng.normal(size=(n, 2))])
    p = 1 / (1 + np.exp(-(x @ np.array([0.3, 2.0, -1.0]))))
    return Examples(x, (rng.random(n) < p).astype(float), rng.uniform(0.5, 2, n))


def test_the_fit_is_the_minimum_and_near_the_truth():
    e = examples()
    found = logistic_fit(e, (0, 0, 0))
    w = e.weights / e.weights.sum()

    def loss(beta):
        t = e.features @ beta
        scaled = beta[1:] * e.features[:, 1:].std(0)
        return w @ (np.logaddexp(0, t) - e.labels * t) + 0.5 * RIDGE * scaled @ scaled

    best = minimize(loss, np.zeros(3), method="Nelder-Mead", options={"xatol": 1e-6, "fatol": 1e-10})
    assert found == pytest.approx(best.x, abs=2e-3)
    assert found == pytest.approx([0.3, 2.0, -1.0], abs=0.45)


def test_signs_are_kept():
    found = logistic_fit(examples(), (0, -1, 1))
    assert found[1] <= 0
    assert found[2] >= 0


def maps_of(crack, joint):
    return ScoreMaps(crack=crack, joint=joint, method=DetectMethod.NETWORK)


def drawn():
    """A joint and a crack that are both true, and a false line."""
    crack, joint = np.zeros((300, 400), np.uint8), np.zeros((300, 400), np.uint8)
    joint[100:104] = 230
    cols = np.arange(400)
    rows = np.rint(200 + 12 * np.sin(cols / 17)).astype(int)
    for k in range(-1, 2):
        crack[rows + k, cols] = 210
    true_crack = crack.copy()
    crack[20:22, 30:90] = 150
    return Truth(maps_of(crack, joint), true_crack, joint, np.zeros_like(crack))


def test_labels_are_looked_up_in_the_truth():
    truth = drawn()
    model = load_model(DetectMethod.NETWORK)
    joints = joint_examples(truth, model)
    assert joints.features.shape[1] == len(JOINT_FEATURES)
    assert joints.labels.sum() == 1
    cracks = crack_examples(truth, model)
    assert cracks.features.shape[1] == len(CRACK_FEATURES)
    assert set(cracks.labels) == {0.0, 1.0}


def test_cracks_that_nobody_could_see_teach_nothing():
    truth = drawn()
    hidden = Truth(truth.maps, truth.crack, truth.joint, truth.crack)
    assert crack_examples(hidden, load_model(DetectMethod.NETWORK)).labels.sum() == 0


def test_the_model_file_is_written_and_read(tmp_path):
    path = tmp_path / "line_model.json"
    model = fit([drawn()])
    for method in DetectMethod:
        write_model(path, method, model, "one drawn picture")
    assert set(json.loads(path.read_text())) == {m.value for m in DetectMethod}
    assert load_model(DetectMethod.FILTERS, path).joint == pytest.approx(model.joint, abs=1e-4)


@pytest.mark.slow
def test_probabilities_of_the_shipped_model_are_calibrated_on_fresh_tiles():
    """Expected calibration error over ten bins, weighted by length (Guo et al. 2017, from memory)."""
    method = DetectMethod.FILTERS
    model = load_model(method)
    parts = [crack_examples(t, model) for t in drawn_truths(method, 24, 7_400_000, 512)]
    x = np.concatenate([p.features for p in parts])
    y = np.concatenate([p.labels for p in parts])
    w = np.concatenate([p.weights for p in parts])
    p = model.crack_probability(x)
    bins = np.minimum((p * 10).astype(int), 9)
    gaps = [
        w[bins == k].sum() * abs(np.average(p[bins == k] - y[bins == k], weights=w[bins == k]))
        for k in range(10)
        if (bins == k).any()
    ]
    assert sum(gaps) / w.sum() < 0.15
