"""A better rota as a job: what is asked, what is found, and in whose place it is put."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import pytest

from missions.day.rules.rota import PlannedTurn, Rota
from missions.day.rules.rota_json import rota_to_json, task_from_json
from missions.day.rules.rota_solve import plan_rota
from missions.day.services.plan_rota import better_wanted, run_of, solve_rota
from missions.models import RotaTurn
from planning.jobs.services.best_rota import ask_for_best_rota, find_best_rota, keep_best_rota
from planning.jobs.services.cancel_job import cancel_job
from planning.models import Job, JobState
from tests import factories as make

NOW = make.NOW
WEEK = dt.timedelta(days=7)
MINUTE = dt.timedelta(minutes=1)


@pytest.fixture
def session(cast):
    """Ours, with a first good rota, between two others of the same club."""
    make.mission_with_tiers(cast.club)
    make.TableFactory(club=cast.club)
    make.kit_out(cast.team_b)
    term = make.TermFactory(club=cast.club)
    _, ours, _ = (
        make.SessionFactory(term=term, starts_at=NOW + n * WEEK, ends_at=NOW + n * WEEK + 60 * MINUTE)
        for n in (-1, 0, 1)
    )
    solve_rota(ours, now=NOW - MINUTE)
    return ours


def wanted(session):
    return better_wanted(run_of(session, NOW))


def ask(session, coach, minutes=0):
    return ask_for_best_rota(session, coach, now=NOW - MINUTE + minutes * MINUTE)


def turns(session):
    return set(RotaTurn.objects.filter(session=session).values_list("slot", "table", "team"))


def test_the_search_says_what_it_does_and_gives_the_best_rota(cast, session):
    told = []
    found = find_best_rota(
        {"session": session.pk, "wanted": wanted(session)},
        SimpleNamespace(tell=lambda *words: told.append(words), stopped=lambda: False),
    )
    assert found == rota_to_json(plan_rota(task_from_json(wanted(session)["task"])))
    assert told == [(0.1, "Looking for a better rota")]


def test_it_is_asked_once_for_the_rota_that_stands_and_not_when_nothing_better_is_wanted(cast, session):
    job = ask(session, cast.coach)
    assert (job.club, job.kind, job.asked_by, job.created_at) == (cast.club, "best_rota", cast.coach, NOW - MINUTE)
    assert job.input == {"session": session.pk, "wanted": wanted(session)}
    assert ask(session, cast.assistant, 1) == job
    RotaTurn.objects.filter(session=session).first().delete()
    assert ask(session, cast.coach) is None, "a hand has changed it"


def test_a_question_that_failed_is_not_asked_again_by_the_page(cast, session):
    job = ask(session, cast.coach)
    Job.objects.filter(pk=job.pk).update(state=JobState.FAILED)
    job.pk, job.state, job.created_at = None, JobState.FAILED, NOW + MINUTE
    job.save(force_insert=True)
    assert ask(session, cast.coach, 2) == job, "the newest"
    assert Job.objects.count() == 2


def test_what_was_stopped_is_asked_again_only_when_somebody_says_so(cast, session):
    job = ask(session, cast.coach)
    cancel_job(job, now=NOW)
    assert ask(session, cast.coach, 2) == job, "the page asks by itself"
    again = ask_for_best_rota(session, cast.coach, again=True, now=NOW)
    assert again != job and again.state == JobState.WAITING
    assert ask(session, cast.coach, 3) == again, "the newest counts"


@pytest.mark.parametrize("other", ["club", "kind", "input_hash"])
def test_what_failed_elsewhere_is_asked(cast, session, other):
    job = ask(session, cast.coach)
    failed = {"state": JobState.FAILED}
    changed = {
        "club": failed | {"club": cast.other_coach.club},
        "kind": failed | {"kind": "plan_course"},
        "input_hash": failed | {"input_hash": "0" * 64},
    }
    Job.objects.filter(pk=job.pk).update(**changed[other])
    again = ask(session, cast.coach, 2)
    assert again.pk != job.pk and again.state == JobState.WAITING


@pytest.mark.parametrize("of", ["our club", "another club"])
def test_what_is_found_takes_the_place_of_the_rota_of_that_session_in_the_jobs_own_club(cast, session, of):
    job, before = ask(session, cast.coach), turns(session)
    other = {cast.team_a.pk: cast.team_b.pk, cast.team_b.pk: cast.team_a.pk}
    best = {(slot, table, other[team]) for slot, table, team in before}
    found = rota_to_json(Rota(tuple(PlannedTurn(*place) for place in sorted(best)), {}))
    if of == "another club":
        job.club = cast.other_coach.club
    keep_best_rota(job, found, NOW - MINUTE)
    assert turns(session) == (best if of == "our club" else before)
