"""Readiness: four answers, each with its reason and what would change it."""

import json
import math
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from missions.readiness.rules.answer import answer, chance_in_time, clean_runs_needed, count_in_words, whole_per_cents
from missions.readiness.rules.belief import chance_over
from missions.readiness.rules.evidence import CountedRun, Evidence, ReadinessError, Rule, gather, update

FIRST = datetime(2026, 9, 1, 16, tzinfo=UTC)
words = st.text("01", max_size=60)


def runs(word, a_day=3, cause="", duration_s=None):
    return [
        CountedRun(
            letter == "1", FIRST + timedelta(days=7 * (i // a_day), minutes=i), duration_s, cause * (letter == "0")
        )
        for i, letter in enumerate(word)
    ]


def judged(word, rule=None, *, changed_at=None, later=timedelta(0), **how):
    rule = rule or Rule()
    evidence = gather(runs(word, **how), rule)
    return answer(evidence, rule, (evidence.last_at or FIRST) + later, changed_at)


def test_a_team_without_runs_is_told_how_many_it_takes():
    said = judged("")
    assert said.code == "too_few"
    assert said.word == "Too few runs to tell"
    assert said.why == "No runs yet."
    assert str(Rule().least_runs) in said.need


def test_three_in_a_row_are_too_few_to_tell():
    assert judged("111").code == "too_few"


def test_a_long_clean_spell_over_two_dates_is_ready():
    said = judged("1" * 12)
    assert said.code == "ready"
    assert said.clean_needed == 0
    assert "12 of the last 12 (87 to 100 %)" in said.why


def test_one_date_is_not_enough_and_the_answer_says_so():
    said = judged("1" * 12, a_day=12)
    assert said.code == "working"
    assert "1 more date" in said.need
    assert judged("1" * 12, Rule(dates=1), a_day=12).code == "ready"


def test_eight_of_ten_is_shown_with_its_interval_never_as_a_bare_percentage():
    assert count_in_words(gather(runs("1110111011"), Rule()), Rule()) == "8 of the last 10 (58 to 93 %)"
    said = judged("1110111011")
    assert (said.successes, said.of) == (8, 10)
    assert "8 of the last 10 (58 to 93 %)" in said.why


@given(words, st.sampled_from([0.5, 0.65, 0.8]), st.sampled_from([0.6, 0.85, 0.9, 0.95]))
def test_the_band_begins_at_the_bar_just_when_the_rule_is_sure_enough(word, target, confidence):
    rule = Rule(target=target, confidence=confidence)
    said = judged(word, rule)
    if abs(said.probability - confidence) > 1e-9:
        assert (said.interval.low >= target) is (said.probability >= confidence)
    low, high = whole_per_cents(said.interval)
    assert low <= 100 * said.interval.low + 1e-6 and 100 * said.interval.high - 1e-6 <= high
    assert 0 <= low < high <= 100


def test_working_says_how_many_clean_runs_would_show_it_and_they_do():
    said = judged("1100101011")
    assert said.code == "working"
    assert f"{said.clean_needed} more clean runs in a row" in said.need
    assert judged("1100101011" + "1" * said.clean_needed).code == "ready"


def test_five_of_five_are_told_how_many_more_it_takes():
    assert judged("11111").need == "Ready would take 5 more clean runs in a row."


@given(words)
def test_the_clean_runs_asked_for_are_enough_and_one_fewer_is_not(word):
    rule = Rule()
    needed = clean_runs_needed(gather(runs(word, a_day=100), rule), rule)
    if needed is None:
        return
    assert clean_runs_needed(gather(runs(word + "1" * needed, a_day=100), rule), rule) == 0
    if needed:
        assert clean_runs_needed(gather(runs(word + "1" * (needed - 1), a_day=100), rule), rule) != 0


def test_a_changed_robot_makes_the_evidence_stale():
    last = runs("1" * 12)[-1].at
    said = judged("1" * 12, changed_at=last + timedelta(hours=1), later=timedelta(hours=2))
    assert (said.code, said.kind) == ("too_few", "stale")
    assert "changed since the last run" in said.why


def test_after_a_change_fresh_runs_are_wanted_before_ready():
    rule = Rule()
    history = runs("1" * 12)
    changed = history[-1].at + timedelta(hours=1)
    evidence = gather(history, rule)
    for more in range(1, rule.fresh_runs + 1):
        run = CountedRun(True, changed + timedelta(hours=more))
        evidence = update(evidence, run, rule, changed)
        said = answer(evidence, rule, run.at, changed)
        assert said.code == ("ready" if more == rule.fresh_runs else "working")
    assert (
        "since the last change"
        in answer(update(gather(history, rule), CountedRun(True, changed), rule, changed), rule, changed, changed).need
    )


def test_evidence_from_before_a_change_fades_once():
    rule = Rule()
    history = runs("1" * 12)
    changed = history[-1].at + timedelta(hours=1)
    plain = update(gather(history, rule), CountedRun(True, changed), rule)
    faded = update(gather(history, rule), CountedRun(True, changed), rule, changed)
    assert chance_over(faded.belief, 0.65) < chance_over(plain.belief, 0.65)
    again = update(faded, CountedRun(True, changed + timedelta(hours=1)), rule, changed)
    assert again.since_change == 2


def test_a_team_that_went_quiet_needs_a_look():
    said = judged("1110", later=timedelta(days=Rule().quiet_days))
    assert (said.code, said.kind) == ("look", "gone_quiet")
    assert "15 days" in said.why


def test_a_team_that_slips_back_needs_a_look():
    said = judged("1111100000")
    assert (said.code, said.kind) == ("look", "slipping_back")
    assert "from 5 of 5 to 0 of the last 5" in said.why


def test_the_same_miss_again_needs_a_look_and_names_the_cause():
    said = judged("0001000", cause="turned_too_far")
    assert (said.code, said.kind) == ("look", "same_miss")
    assert "turned too far" in said.why
    assert judged("0001000", cause="other").kind != "same_miss"
    assert judged("00010001", cause="turned_too_far").kind != "same_miss", "a clean run ends it"


def test_a_stuck_team_needs_a_look_and_an_improving_one_does_not():
    assert judged("000100000001000000").kind == "stuck"
    assert judged("0000000000000" + "01111").kind != "stuck"


def test_a_timed_tier_asks_for_the_time_too():
    rule = Rule(time_limit_s=30.0)
    fast = judged("1" * 12, rule, duration_s=25.0)
    assert fast.code == "ready"
    assert "beat 30 s" in fast.why
    slow = judged("1" * 12, rule, duration_s=31.0)
    assert slow.code == "working"
    assert "faster or steadier" in slow.need
    assert "three timed runs" in judged("1" * 12, rule).need


def test_the_chance_to_beat_the_limit_is_students():
    logs = np.log([24.0, 27.0, 22.0, 30.0, 26.0])
    scale = logs.std(ddof=1) * math.sqrt(1 + 1 / 5)
    reference = stats.t(4, loc=logs.mean(), scale=scale).cdf(math.log(30))
    assert chance_in_time(np.exp(logs), 30.0) == pytest.approx(reference, abs=1e-12)
    assert chance_in_time([24.0, 27.0], 30.0) is None
    assert chance_in_time([24.0, None, 27.0, 30.0], None) is None


def test_the_chance_to_beat_the_limit_is_honest_about_five_runs():
    # the predictive probability of what then really comes is uniform, whatever the true mean and spread
    rng = np.random.default_rng(1)
    times = np.exp(rng.normal(3.2, 0.1, (4000, 6)))
    ranks = [chance_in_time(row[:5], row[5]) for row in times]
    assert stats.kstest(ranks, "uniform").pvalue > 0.01


@given(words, st.integers(0, 2**31))
def test_evidence_does_not_depend_on_the_order_in_which_runs_arrive(word, seed):
    rule = Rule()
    history = runs(word)
    shuffled = list(history)
    np.random.default_rng(seed).shuffle(shuffled)
    assert gather(shuffled, rule) == gather(history, rule)


def test_a_run_that_comes_late_is_refused_by_update():
    rule = Rule()
    evidence = gather(runs("11"), rule)
    with pytest.raises(ReadinessError) as raised:
        update(evidence, CountedRun(True, FIRST - timedelta(days=1)), rule)
    assert raised.value.code == "out_of_order"


@given(words)
def test_evidence_keeps_its_size_and_survives_json(word):
    rule = Rule()
    evidence = gather(runs(word, duration_s=21.5), rule)
    assert len(evidence.strip) <= rule.window
    assert len(evidence.dates) <= 12
    assert Evidence.from_dict(json.loads(json.dumps(evidence.as_dict()))) == evidence


@given(words, st.sampled_from([None, 30.0]))
def test_every_history_has_one_of_the_four_answers_with_its_sentences(word, limit):
    said = judged(word, Rule(time_limit_s=limit), duration_s=28.0)
    assert said.code in ("too_few", "working", "ready", "look")
    assert said.why.endswith(".") and said.need.endswith(".")
    assert len(said.why) <= 400
    assert 0 <= said.interval.low <= said.interval.high <= 1


@given(words)
def test_ready_always_means_what_the_rule_asks(word):
    rule = Rule()
    evidence = gather(runs(word), rule)
    if answer(evidence, rule, FIRST + timedelta(days=7 * 20)).code == "ready":
        assert chance_over(evidence.belief, rule.target) >= rule.confidence
        assert len(evidence.dates) >= rule.dates
        assert sum(run.success for run in evidence.strip[-rule.clean_of :]) >= rule.clean_runs


def test_a_club_and_a_tier_change_the_rule():
    rule = Rule.of({"target": 0.7, "dates": 3}, {"dates": 1})
    assert (rule.target, rule.dates) == (0.7, 1)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"taget": 0.7}, "unknown_key"),
        ({"target": 1.7}, "bad_rule"),
        ({"target": math.nan}, "bad_rule"),
        ({"target": "high"}, "bad_rule"),
        ({"clean_runs": 13}, "bad_rule"),
        ({"clean_of": 13}, "bad_rule"),
        ({"dates": -1}, "bad_rule"),
        ({"window": 2.5}, "bad_rule"),
        ({"time_limit_s": 0.0}, "bad_rule"),
    ],
)
def test_a_rule_that_makes_no_sense_is_refused(change, code):
    with pytest.raises(ReadinessError) as raised:
        Rule.of(change)
    assert raised.value.code == code


def test_kept_evidence_that_cannot_be_read_is_refused():
    assert Evidence.from_dict({}) == Evidence()
    with pytest.raises(ReadinessError):
        Evidence.from_dict({"belief": 1})
