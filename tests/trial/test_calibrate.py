"""Calibration finds weights that were put in, and its curve tells the truth about them."""

from __future__ import annotations

import numpy as np
import pytest

from assistant.lab.trial import calibrate


def test_the_regression_finds_the_weights_that_made_the_data() -> None:
    dice = np.random.default_rng(4)
    x = np.column_stack([np.ones(20_000), dice.normal(size=(20_000, 2))])
    weight = np.array([-1.5, 2.0, -0.7])
    y = (dice.random(20_000) < 1 / (1 + np.exp(-x @ weight))).astype(float)
    assert calibrate.regressed(x, y, np.zeros(3)) == pytest.approx(weight, abs=0.08)
    against = calibrate.regressed(x, y, np.array([0.0, -1.0, -1.0]))  # more of the second makes it wrong, against sense
    assert against[1] == 0 and against[2] < -0.3


def test_the_curve_tells_a_probability_that_is_true_from_one_that_is_not() -> None:
    dice = np.random.default_rng(5)
    held_out = dice.uniform(0, 1, 20_000) ** 2
    wrong = (dice.random(20_000) < held_out).astype(float)
    fitted = calibrate.Fitted({}, held_out, wrong, np.full(20_000, 20.0), np.full(20_000, 0.01), 0.0)
    lines = [line.split() for line in calibrate.reliability(fitted) if " to " in line][1:]
    assert len(lines) >= 5
    believed = list(calibrate.reliability(fitted))[-1].split()
    assert float(believed[3].rstrip("%")) == pytest.approx(10.0, abs=1.0)  # the root of 0.01 is 0.1
    assert int(believed[4]) / (20_000 * 0.1) == pytest.approx(0.01 / 3, abs=0.003)
    for line in lines:
        assert float(line[-1]) == pytest.approx(float(line[-2]), abs=0.02)
