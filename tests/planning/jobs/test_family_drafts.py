"""Drafts of families' words as a job: it tells how far it is, and stops where it is told to."""

from __future__ import annotations

import pytest

from motion.errors import CancelledError
from planning.jobs.services import family_drafts
from planning.jobs.services.family_drafts import ask_for_drafts, make_drafts
from tests import factories as make


class Control:
    """A worker's, with what was told; the coach presses Stop after so many looks."""

    def __init__(self, stops_after: int = 99) -> None:
        self.told: list[tuple[float, str]] = []
        self.stops_after = stops_after

    def tell(self, fraction: float, words: str) -> None:
        self.told.append((fraction, words))

    def out_of_time(self) -> bool:
        return self.stopped()

    def stopped(self) -> bool:
        return len(self.told) >= self.stops_after


@pytest.fixture
def four_children(monkeypatch):
    """Each is drafted as long as the work may go on."""

    def draft_due(club, asked_at, *, now, goes_on):
        drafted = 0
        while drafted < 4 and goes_on(drafted / 4):
            drafted += 1
        return drafted

    monkeypatch.setattr(family_drafts, "draft_due", draft_due)


def asked(cast):
    return {"club": cast.club.pk, "asked_at": make.NOW.isoformat()}


def test_it_tells_how_far_it_is(cast, four_children):
    control = Control()
    assert make_drafts(asked(cast), control) == {"drafted": 4}
    assert control.told == [(n / 4, "Drafting words for families") for n in range(4)]


def test_it_stops_where_it_is_told_to(cast, four_children):
    control = Control(stops_after=2)
    with pytest.raises(CancelledError):
        make_drafts(asked(cast), control)
    assert len(control.told) == 2


def test_what_is_asked_for_is_what_the_work_reads(cast, four_children):
    job = ask_for_drafts(cast.coach, now=make.NOW)
    assert (job.kind, job.input, job.asked_by) == ("family_drafts", asked(cast), cast.coach)
