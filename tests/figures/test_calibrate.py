"""The threshold of sure, and what is written into the card."""

import json
import random

import numpy as np
import pytest
from scipy import optimize, stats

from stampreader.train import calibrate


def connector(*scores, right=True, glyph=0.9):
    """A connector with a figure of each score."""
    return [{"score": s, "glyph": glyph, "right": right} for s in scores]


def test_598_faultless_connectors_certify_the_promise():
    """598 without an error show 0.5 % at 95 % (scipy.stats.binom), 597 do not."""
    assert stats.binom.cdf(0, 598, 0.005) <= 0.05 < stats.binom.cdf(0, 597, 0.005)
    assert calibrate.learn_then_test([connector(0.999)] * 598).certified
    assert not calibrate.learn_then_test([connector(0.999)] * 597).certified


def test_walk_stops_before_the_first_threshold_that_fails():
    """The threshold chosen passes, as every stricter one does, and the next fails."""
    rng = random.Random(5)
    connectors = [
        connector(s, right=rng.random() > max(0.0, 0.9 - s) * 0.3)
        for s in (rng.uniform(0.5, 1.0) for _ in range(9000))
    ]
    choice = calibrate.learn_then_test(connectors)
    passed = []
    for least in calibrate.STEPS:
        own = [c for c in connectors if c[0]["score"] >= least]
        errors = sum(not c[0]["right"] for c in own)
        if len(own) >= 598:
            passed.append((least, stats.binom.cdf(errors, len(own), 0.005) <= 0.05))
    walked = []
    for least, passes in passed:
        if not passes:
            break
        walked.append(least)
    assert walked[-1] == choice.sure_at < walked[0]
    assert len(walked) < len(passed)
    assert stats.beta.ppf(0.95, choice.errors + 1, choice.connectors - choice.errors) == (
        pytest.approx(choice.bound)
    )


def test_one_wrong_figure_makes_the_connector_wrong():
    """The unit is the connector: three figures are one trial."""
    mixed = [*connector(0.99, 0.98), *connector(0.97, right=False)]
    assert (1, 1) == calibrate.accepted([mixed], 0.9)
    assert (1, 0) == calibrate.accepted([mixed], 0.975)
    assert (0, 0) == calibrate.accepted([mixed], 0.995)


def test_temperature_is_where_the_likelihood_is_best():
    """Overconfident probabilities: the search agrees with scipy's optimizer within a step."""
    rng = np.random.default_rng(3)
    logits = rng.normal(2.0, 1.0, 4000)
    right = rng.random(4000) < 1 / (1 + np.exp(-logits))
    shown = 1 / (1 + np.exp(-2.5 * logits))
    connectors = [connector(0.9, right=r, glyph=p) for r, p in zip(right, shown, strict=True)]

    def loss(t):
        q = 1 / (1 + np.exp(-2.5 * logits / t))
        return -np.mean(np.log(np.where(right, q, 1 - q)))

    best = optimize.minimize_scalar(loss, bounds=(0.3, 8), method="bounded").x
    assert best == pytest.approx(calibrate.best_temperature(connectors), rel=0.03)


@pytest.mark.parametrize(("count", "status"), [(700, 0), (100, 1)])
def test_card_records_what_was_shown(tmp_path, capsys, count, status):
    """The card has the number, the errors and the bound; too few are called not shown."""
    features, card = tmp_path / "features.json", tmp_path / "card.json"
    features.write_text(json.dumps([{"figures": connector(0.999)}] * count), "utf-8")
    card.write_text(
        json.dumps({"classes": ["0"], "caps": {"link_at": 0.85, "sure_at": 0.5}}), "utf-8"
    )
    assert status == calibrate.main([str(features), "--card", str(card)])
    written = json.loads(card.read_text("utf-8"))
    assert ["0"] == written["classes"] and 0.85 == written["caps"]["link_at"]
    assert (count, 0) == (written["calibration"]["connectors"], written["calibration"]["errors"])
    assert (status == 0) == written["calibration"]["certified"] == written["promise"]["certified"]
    assert f"Of {count} rendered connectors" in written["promise"]["text"]
    assert stats.beta.ppf(0.95, 1, count) == pytest.approx(written["calibration"]["bound"])
    assert ("NOT shown" in capsys.readouterr().out) == bool(status)


def test_another_temperature_takes_the_calibration_away(tmp_path):
    """Scores change with the temperature, so no threshold holds until the features are new."""
    features, card = tmp_path / "features.json", tmp_path / "card.json"
    features.write_text(json.dumps([{"figures": connector(0.9)}] * 9), "utf-8")
    card.write_text(json.dumps({"caps": {"calibrated": True}, "calibration": {}}), "utf-8")
    assert 0 == calibrate.main([str(features), "--card", str(card), "--temperature"])
    written = json.loads(card.read_text("utf-8"))
    assert "calibration" not in written and not written["caps"]["calibrated"]


def test_checks_of_a_fixed_threshold_add_up_to_the_promise(tmp_path, capsys):
    """Photos read later count at the threshold as it stands; 598 without a wrong one show the promise.

    The bound is Clopper and Pearson's (1934), from the beta distribution of scipy.
    """
    features, card = tmp_path / "features.json", tmp_path / "card.json"
    features.write_text(json.dumps([{"figures": connector(0.999)}] * 100), "utf-8")
    card.write_text(json.dumps({"caps": {}}), "utf-8")
    calibrate.main([str(features), "--card", str(card)])
    at = json.loads(card.read_text("utf-8"))["calibration"]["sure_at"]
    low = [{"figures": connector(at - 0.01)}] * 50  # these are not sure, and may be wrong
    features.write_text(json.dumps(low + [{"figures": connector(at)}] * 299), "utf-8")
    assert 1 == calibrate.main([str(features), "--card", str(card), "--check"])
    once = json.loads(card.read_text("utf-8"))
    assert once["calibration"]["checks"] == [{"connectors": 299, "errors": 0}]
    assert stats.beta.ppf(0.95, 1, 299) == pytest.approx(once["calibration"]["checked_bound"])
    assert "Of 299 others" in once["promise"]["text"] and "is not shown" in once["promise"]["text"]
    assert 0 == calibrate.main([str(features), "--card", str(card), "--check"])
    twice = json.loads(card.read_text("utf-8"))
    assert twice["promise"]["certified"] and twice["calibration"]["sure_at"] == at
    assert "Of 598 others" in capsys.readouterr().out


def test_errors_in_checks_take_the_promise_back(tmp_path):
    """598 faultless connectors show it; with 5 wrong among 100 more it is no longer kept.

    scipy.stats.binom says so of both.
    """
    features, card = tmp_path / "features.json", tmp_path / "card.json"
    features.write_text(json.dumps([{"figures": connector(0.999)}] * 598), "utf-8")
    card.write_text(json.dumps({"caps": {}}), "utf-8")
    assert 0 == calibrate.main([str(features), "--card", str(card)])
    wrong = [{"figures": connector(0.999, right=False)}] * 5
    features.write_text(json.dumps(wrong + [{"figures": connector(0.999)}] * 95), "utf-8")
    assert stats.binom.cdf(0, 598, 0.005) <= 0.05 < stats.binom.cdf(5, 698, 0.005)
    assert 1 == calibrate.main([str(features), "--card", str(card), "--check"])
    written = json.loads(card.read_text("utf-8"))
    assert not written["promise"]["certified"] and "is not shown" in written["promise"]["text"]
