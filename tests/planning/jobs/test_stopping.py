"""Each kind of job that a person can ask for is stopped by its button, before its turn and in the middle of the work.

A new kind fails here until it is said how a person asks for it, or that nobody does.
"""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from django.urls import reverse

from classroom.models import SummaryWords
from missions.day.services.plan_rota import solve_rota
from missions.editor.rules.first_document import first_document
from missions.ladder.services.edit_mission import start_mission
from missions.models import RotaTurn
from planning.courses.services.plan_team_course import PLAN_COURSE
from planning.feasibility.services.feasibility import FEASIBILITY
from planning.feasibility.services.obstacle_places import OBSTACLE_PLACES
from planning.jobs.kinds import KINDS
from planning.jobs.services import run_job as running
from planning.jobs.services.best_rota import BEST_ROTA
from planning.jobs.services.family_drafts import FAMILY_DRAFTS
from planning.jobs.services.family_letters import FAMILY_LETTER
from planning.jobs.services.hold_job import claim_job, finish_job
from planning.models import Course, Job, JobState
from tests import factories as make
from tests.pages import page_of

NOW = make.NOW
HX = {"HX-Request": "true"}
#: The sweep asks for these; a letter is stopped by its own row (``classroom/families/letters.py``).
ASKED_BY_NOBODY = {FAMILY_LETTER}


@dataclass(frozen=True)
class Asked:
    """A kind as a person meets it. ``ask`` presses the button that asks and gives back the page that shows the job."""

    ask: Callable[[Any], str]
    #: How the page is looked at.
    look: Callable[[Any, str], Any]
    stopped: str
    #: What of it leads to another try.
    again: str


def _get(cast: Any, page: str) -> Any:
    return cast.as_coach.get(page, headers=HX)


def _post(cast: Any, page: str) -> Any:
    return cast.as_coach.post(page, headers=HX)


def _ask_course(cast: Any) -> str:
    _, tiers = make.mission_with_tiers(cast.club)
    answer = cast.as_coach.post(
        reverse("course_ask", args=[cast.team_a.pk, tiers[0].tier_id]), {"aim": "fastest", "alternatives": "1"}
    )
    return str(answer.url)


def _mission(cast: Any) -> Any:
    return start_mission(cast.club, cast.coach, first_document("Fog bell", 2400, 1200), now=NOW)


def _ask_feasibility(cast: Any) -> str:
    return str(cast.as_coach.post(reverse("feasibility_panel", args=[_mission(cast).pk]), {"robot": ""}).url)


def _ask_places(cast: Any) -> str:
    data = {"room": "2 cm", "for_tier": "t2"}
    return str(cast.as_coach.post(reverse("obstacle_places", args=[_mission(cast).pk]), data).url)


def _ask_drafts(cast: Any) -> str:
    cast.as_coach.post(reverse("family_drafts"))
    return reverse("family_drafts")


def _ask_rota(cast: Any) -> str:
    make.mission_with_tiers(cast.club)
    make.TableFactory(club=cast.club)
    make.kit_out(cast.team_b)
    session = make.SessionFactory(
        term=make.TermFactory(club=cast.club), starts_at=NOW, ends_at=NOW + dt.timedelta(minutes=60)
    )
    solve_rota(session, now=NOW)
    page = reverse("rota_better", args=[session.pk])
    cast.as_coach.post(page, headers=HX)
    return page


ASKED = {
    PLAN_COURSE: Asked(_ask_course, _get, "Nothing was kept of it", "Ask again"),
    FEASIBILITY: Asked(_ask_feasibility, _get, "was stopped before it had an answer", "ask again"),
    OBSTACLE_PLACES: Asked(_ask_places, _get, "The search was stopped", "ask again"),
    FAMILY_DRAFTS: Asked(_ask_drafts, _get, "Drafting was stopped", "press “Draft new words” again"),
    BEST_ROTA: Asked(_ask_rota, _post, "The search was stopped; the rota stays as it is", "Look for a better one"),
}


@pytest.fixture(params=sorted(KINDS.keys() - ASKED_BY_NOBODY))
def kind(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def kept() -> list[Any]:
    """Everything that a job's result changes."""
    turns = RotaTurn.objects.order_by("pk").values_list("session", "slot", "table", "team")
    return [list(turns), Course.objects.count(), SummaryWords.objects.count()]


def test_it_is_known_how_a_person_meets_each_kind() -> None:
    assert ASKED.keys() | ASKED_BY_NOBODY == KINDS.keys()


def test_one_that_waits_stops_at_once_and_is_asked_again(cast: Any, kind: str) -> None:
    asked = ASKED[kind]
    page, before = asked.ask(cast), kept()
    job = Job.objects.filter(kind=kind).first()
    assert job and reverse("job_cancel", args=[job.pk]) in page_of(asked.look(cast, page))
    for one in Job.objects.filter(kind=kind):
        cast.as_coach.post(reverse("job_cancel", args=[one.pk]), headers=HX)
    job.refresh_from_db()
    assert (job.state, job.result) == (JobState.CANCELLED, None)
    assert not running.run_job(job.pk) and kept() == before
    said = page_of(asked.look(cast, page))
    assert asked.stopped in said and asked.again in said and reverse("job_cancel", args=[job.pk]) not in said


class Beside:
    """In place of the heartbeat: the work is told to stop when it looks for the first time, by the button."""

    def __init__(self, cast: Any, asked: Asked, page: str) -> None:
        self.cast, self.asked, self.page = cast, asked, page
        self.asked_to_stop, self.lost, self.said = False, False, ""
        self._presser = threading.current_thread()

    def __call__(self, hold: Any, ends: float) -> Beside:
        self.pk = hold.job.pk
        return self

    def __enter__(self) -> Beside:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def tell(self, fraction: float, words: str) -> None:
        pass

    def stopped(self) -> bool:
        # The planner looks from a thread of its own too, which would hear of the press before its page has been read.
        if not self.asked_to_stop and threading.current_thread() is self._presser:
            self.cast.as_coach.post(reverse("job_cancel", args=[self.pk]), headers=HX)
            self.said = page_of(self.asked.look(self.cast, self.page))
            self.asked_to_stop = Job.objects.exclude(cancel_asked_at=None).filter(pk=self.pk).exists()
        return self.asked_to_stop


@pytest.mark.slow
def test_one_at_work_hears_it_lets_go_and_keeps_nothing(cast: Any, kind: str, monkeypatch: Any) -> None:
    """The real work, told at its first look: that it looks at all is what lets a worker go within seconds."""
    asked = ASKED[kind]
    page, before = asked.ask(cast), kept()
    job = Job.objects.filter(kind=kind).first()
    assert job
    beside = Beside(cast, asked, page)
    monkeypatch.setattr(running, "Heartbeat", beside)
    assert running.run_job(job.pk)
    job.refresh_from_db()
    assert beside.asked_to_stop and "Stopping" in beside.said
    assert (job.state, job.progress_words, job.result, job.error_words) == (JobState.CANCELLED, "Stopped", None, "")
    assert kept() == before
    Job.objects.unfinished().filter(kind=kind).delete()  # other tiers of the same question
    said = page_of(asked.look(cast, page))
    assert asked.stopped in said and asked.again in said


def test_what_was_found_while_somebody_pressed_stop_is_not_kept(db: None) -> None:
    job, heard = make.JobFactory(), []
    hold = claim_job(job.pk, now=NOW, lease_s=15, deadline_s=120)
    assert hold
    Job.objects.filter(pk=job.pk).update(cancel_asked_at=NOW)
    assert not finish_job(hold, {"answer": 7}, now=NOW, keep=lambda *row: heard.append(row))
    job.refresh_from_db()
    assert (job.state, job.result, job.progress_words, job.finished_at, heard) == (
        "cancelled",
        None,
        "Stopped",
        NOW,
        [],
    )


def test_without_a_script_stop_leads_back_to_where_it_was_pressed_and_nowhere_else(cast: Any) -> None:
    stop = [reverse("job_cancel", args=[make.JobFactory(club=cast.club, input={}).pk])]
    assert cast.as_coach.post(stop[0], {"back": "/missions/"}).url == "/missions/"
    assert cast.as_coach.post(stop[0], {"back": "https://elsewhere.example/"}).url == reverse("board")
