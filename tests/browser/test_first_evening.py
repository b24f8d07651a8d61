"""From an empty installation to the first run on the board, through the pages alone, as a new coach and a first team."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import connection

from docs.first_evening import counted
from planning.jobs.services.run_job import run_job
from planning.models import Job
from tests.browser.first_evening import CLUB, EMAIL, Part, first_evening
from tests.browser.hands import MOST_TABS, Count, Hands, Keys, Tree
from tests.patience import LONGEST_S


@pytest.fixture
def worker(transactional_db: None) -> Iterator[None]:
    """What the background worker does: one waiting job after the other."""
    ended = threading.Event()

    def work() -> None:
        try:
            while not ended.wait(0.2):
                for key in Job.objects.filter(state="waiting").values_list("pk", flat=True):
                    run_job(key)
        finally:
            connection.close()

    thread = threading.Thread(target=work)
    thread.start()
    yield
    ended.set()
    thread.join(LONGEST_S)


@pytest.fixture
def evening(worker, open_page) -> Callable[[type[Hands]], tuple[list[Part], Any, Any]]:
    """The whole evening with such hands; what was counted, and the coach's and the tablet's."""

    def spend(hands: type[Hands]) -> tuple[list[Part], Any, Any]:
        said = StringIO()
        call_command("open_club", CLUB, EMAIL, stdout=said)
        link = re.search(r"/join/\S+", said.getvalue()).group()  # type: ignore[union-attr]
        coach = hands(open_page(path="/"))
        tablet = hands(open_page(path="/", width=820, height=1180, touch=True))
        return first_evening(coach, tablet, link, look=lambda name, page: None), coach, tablet

    return spend


def test_a_new_club_gets_to_its_first_run_through_the_pages_alone_in_as_many_presses_as_are_told(evening):
    parts, _coach, _tablet = evening(Hands)
    told = (Path(settings.BASE_DIR) / "docs" / "first-evening.md").read_text()
    for row in counted(parts):
        assert row in told, "docs/first-evening.md: make first-evening writes it anew"
    all_of_it = sum((part.count for part in parts), Count())
    readme = (Path(settings.BASE_DIR) / "README.md").read_text()
    assert f"{all_of_it.presses} presses and {all_of_it.boxes} boxes" in readme


def test_the_whole_evening_is_done_by_keys_alone_with_few_between_two_acts(evening):
    parts, coach, tablet = evening(Keys)
    acts = sum(part.count.presses + part.count.boxes for part in parts)
    assert len(coach.tabs) + len(tablet.tabs) > 60 and acts > 60
    assert max(coach.tabs + tablet.tabs) <= MOST_TABS


def test_the_whole_evening_is_done_by_what_a_screen_reader_is_told(evening):
    parts, _coach, _tablet = evening(Tree)
    assert sum(part.count.boxes for part in parts) > 20
