"""Is what came luck, given what was said? Counted out by hand and by simulation."""

import numpy as np
import pytest

from planning.forecasts.pages import overall
from planning.forecasts.rules import Forecast, by_tenths, tails


@pytest.mark.parametrize(
    ("said", "came", "runs", "at_most", "at_least"),
    [
        (0.5, 0, 5, 1 / 32, 1.0),
        (0.5, 5, 5, 1.0, 1 / 32),
        (0.5, 1, 4, 5 / 16, 15 / 16),
        (0.2, 2, 2, 1.0, 0.04),
    ],
)
def test_a_sure_chance_counts_like_a_coin(said, came, runs, at_most, at_least):
    assert tails(said, said, said, came, runs) == pytest.approx((at_most, at_least), abs=2e-4)


def test_a_chance_known_to_a_range_counts_as_simulated_clubs_do():
    rng = np.random.default_rng(4)
    true = rng.beta(6, 4, 200_000)
    came = rng.binomial(10, true)
    mean, sd = 0.6, float(np.sqrt(6 * 4 / (10**2 * 11)))
    for count in (1, 3, 6, 9):
        at_most, at_least = tails(mean, mean - 1.96 * sd, mean + 1.96 * sd, count, 10)
        assert at_most == pytest.approx((came <= count).mean(), abs=0.004)
        assert at_least == pytest.approx((came >= count).mean(), abs=0.004)


@pytest.mark.parametrize(
    ("forecast", "verdict"),
    [
        (Forecast(0.85, 0.80, 0.90, 3, 11), "fewer"),
        (Forecast(0.85, 0.20, 0.99, 9, 11), "agrees"),
        (Forecast(0.10, 0.05, 0.15, 8, 10), "more"),
        (Forecast(0.85, 0.80, 0.90, 0, 4), "early"),
        (Forecast(0.58, 0.46, 0.71, 9, 12), "agrees"),
    ],
)
def test_a_result_is_early_luck_or_none(forecast, verdict):
    assert forecast.verdict == verdict


def test_what_was_said_and_came_in_one_sentence():
    assert Forecast(0.58, 0.46, 0.71, 9, 12).words == "Said 46 to 71 in 100, came 9 of 12."
    assert Forecast(0.5, 0.5, 0.5, 1, 2).words == "Said 50 in 100, came 1 of 2."


def test_at_most_one_true_forecast_in_twenty_is_called_wrong():
    rng = np.random.default_rng(5)
    wrong = 0
    for _ in range(3000):
        true = rng.beta(5, 3)
        came = int(rng.binomial(12, true))
        wrong += Forecast(0.625, 0.312, 0.938, came, 12).verdict in ("fewer", "more")
    assert wrong / 3000 <= 0.05


def test_plans_stand_in_the_tenth_of_what_was_said_and_only_when_they_were_run():
    tenths = by_tenths(
        [
            Forecast(0.42, 0.3, 0.5, 3, 6),
            Forecast(0.48, 0.3, 0.6, 1, 2),
            Forecast(0.91, 0.8, 1.0, 0, 0),
            Forecast(1.0, 1.0, 1.0, 5, 5),
        ]
    )
    assert [(t.lower, t.plans, t.came, t.runs) for t in tenths] == [(0.4, 2, 4, 8), (0.9, 1, 5, 5)]
    assert tenths[0].said == pytest.approx((0.42 * 6 + 0.48 * 2) / 8) and tenths[0].share == 0.5


@pytest.mark.parametrize(
    ("came", "runs", "words"), [(10, 19, "early"), (50, 100, "agrees"), (30, 100, "fewer"), (70, 100, "more")]
)
def test_all_together_are_early_or_within_two_standard_errors(came, runs, words):
    assert overall([Forecast(0.5, 0.5, 0.5, came, runs)]) == words
