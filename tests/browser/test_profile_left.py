"""What lies on a tablet's disk after its team has signed out: the browser's own profile folder, file by file."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from django.conf import settings
from django.utils import timezone

from tests import factories as make
from tests.browser.conftest import CHROMIUM, FLAGS, WINDOWED, until_on
from tests.patience import LONGEST_MS

NAME = "Whimbrelette"


def files_with(folder: Path, text: str) -> list[str]:
    """Every file below the folder that holds the text, in either of the two ways in which browsers write text down."""
    wanted = (text.encode(), text.encode("utf-16-le"))
    held = []
    for path in folder.rglob("*"):
        try:
            data = path.read_bytes() if path.is_file() and not path.is_symlink() else b""
        except OSError:  # a lock or a pipe of the running browser's
            continue
        if any(each in data for each in wanted):
            held.append(str(path.relative_to(folder)))
    return held


@pytest.fixture
def profile(tmp_path, site, live_server, chromium):
    """A browser with a profile on disk, as a tablet has one, signed in as a team; beside it, the folder."""
    folder = tmp_path / "profile"
    context = chromium.browser_type.launch_persistent_context(
        str(folder),
        executable_path=WINDOWED or CHROMIUM,
        args=FLAGS,
        base_url=live_server.url,
        has_touch=True,
        timeout=LONGEST_MS,
    )
    context.set_default_timeout(LONGEST_MS)
    value = site.as_team_a.cookies[settings.SESSION_COOKIE_NAME].value
    context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": value, "url": live_server.url}])
    yield context, folder
    context.close()


def test_the_tablets_disk_holds_no_childs_name_after_signing_out(site, profile):
    site.member_a.nickname = NAME
    site.member_a.save()
    _, tiers = make.mission_with_tiers(site.club)
    make.ProgressFactory(team=site.team_a, tier=tiers[0].tier)
    now = timezone.now()
    term = make.TermFactory(club=site.club, starts_on=now.date(), ends_on=now.date() + dt.timedelta(days=30))
    make.SessionFactory(term=term, starts_at=now, ends_at=now + dt.timedelta(minutes=90))
    context, folder = profile
    page = context.new_page()
    page.goto("/team/mission/")
    assert NAME in page.inner_text("main")
    page.evaluate("navigator.serviceWorker.ready.then(() => 1)")
    page.reload()
    until_on(page, lambda: files_with(folder, NAME), "the page to be kept on disk for times without network")
    page.goto("/team/leave/")
    page.get_by_role("button", name="Sign out").tap()
    page.get_by_text("Signed out.").wait_for()
    until_on(page, lambda: not files_with(folder, NAME), "what was kept to be taken off the disk")
    context.close()
    assert files_with(folder, NAME) == [], "nor is it written when the browser ends"
