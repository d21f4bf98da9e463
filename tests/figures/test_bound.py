"""Exact bounds against scipy and against published values."""

import pytest
from scipy import stats

from stampreader.figures.bound import binomial_cdf, trials_needed, upper_bound


@pytest.mark.parametrize("errors", [0, 1, 3, 17])
@pytest.mark.parametrize("trials", [20, 299, 598, 5000])
def test_bound_is_the_beta_quantile(errors, trials):
    """Clopper-Pearson as a quantile of the beta distribution (scipy.stats.beta)."""
    assert stats.beta.ppf(0.95, errors + 1, trials - errors) == pytest.approx(
        upper_bound(errors, trials), abs=1e-9
    )


@pytest.mark.parametrize(
    ("errors", "trials", "share"), [(0, 10, 0.3), (4, 40, 0.1), (9, 2000, 0.005)]
)
def test_chance_is_that_of_scipy(errors, trials, share):
    """The binomial distribution of scipy.stats.binom."""
    assert stats.binom.cdf(errors, trials, share) == pytest.approx(
        binomial_cdf(errors, trials, share)
    )


@pytest.mark.parametrize(
    ("share", "needed"), [(0.05, 59), (0.01, 299), (0.005, 598), (0.001, 2995)]
)
def test_faultless_trials_needed(share, needed):
    """59 and 299 stand in tables of success-run sampling (zero failures, 95 % confidence)."""
    assert needed == trials_needed(0, share)


@pytest.mark.parametrize("errors", [1, 2, 5])
def test_one_trial_fewer_is_too_few(errors):
    """The number needed is the fewest (scipy.stats.binom)."""
    needed = trials_needed(errors)
    assert (
        stats.binom.cdf(errors, needed, 0.005) <= 0.05 < stats.binom.cdf(errors, needed - 1, 0.005)
    )


def test_nothing_tried_nothing_known():
    """Without trials, or with errors only, the bound is 1."""
    assert 1.0 == upper_bound(0, 0) == upper_bound(7, 7)
