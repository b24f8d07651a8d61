"""What a tablet says once is said to whoever reads it: not to the worker that keeps pages, and not again without network."""

from __future__ import annotations

import pytest

from tests import factories as make
from tests.browser.conftest import until_on
from tests.browser.day_world import an_afternoon

SAID = "has that job now"
KEPT = "(address) => caches.match(address).then((found) => (found ? found.text() : ''))"
#: Until a test lets the worker come.
NO_WORKER = "navigator.serviceWorker.register = () => new Promise(() => {});"
COMES = "() => ServiceWorkerContainer.prototype.register.call(navigator.serviceWorker, '/team/worker.js').then(() => 1)"


@pytest.fixture
def tablet(site, open_page):
    site.world = an_afternoon(site)
    make.MembershipFactory(team=site.team_a, member__nickname="Wren")
    page = open_page(site.as_team_a, "/privacy/", touch=True)
    page.add_init_script(NO_WORKER)
    page.goto("/team/mission/")
    return page


def worker_comes(page, address="/team/mission/"):
    page.evaluate(COMES)
    until_on(page, lambda: "jobs" in page.evaluate(KEPT, address), "the page to be kept")


def test_a_message_is_not_said_to_the_worker_that_keeps_pages(tablet):
    form = {
        "csrfmiddlewaretoken": tablet.locator(".job-list [name=csrfmiddlewaretoken]").input_value(),
        "job": tablet.locator(".job-list [name=job]").first.get_attribute("value"),
    }
    answer = tablet.request.post("/team/jobs/", form=form, headers={"Referer": tablet.url}, max_redirects=0)
    assert answer.status == 302, "the message waits for the next page"
    worker_comes(tablet)
    assert SAID not in tablet.evaluate(KEPT, "/team/mission/")
    tablet.goto("/team/mission/")
    assert SAID in tablet.inner_text("#messages")


def test_a_message_is_not_said_again_by_a_page_that_was_kept(tablet):
    worker_comes(tablet)
    tablet.locator(".job-list button").first.tap()
    tablet.get_by_text(SAID).wait_for()
    address = tablet.url.split("#")[0]
    until_on(tablet, lambda: "jobs" in tablet.evaluate(KEPT, address), "the page with the message to be kept")
    tablet.context.set_offline(True)
    tablet.goto(address)
    tablet.get_by_role("heading", name="What there is to do").wait_for()
    assert SAID not in tablet.inner_text("main")
    tablet.context.set_offline(False)
