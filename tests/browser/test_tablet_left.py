"""After a team has signed out, its tablet holds nothing of a child: neither kept pages nor any other storage."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

from tests import factories as make
from tests.browser.conftest import until_on

#: All that a page can read of what its origin has stored: pages kept for times without network, IndexedDB, storages.
_STORED = """async () => {
  const out = [JSON.stringify(localStorage), JSON.stringify(sessionStorage), document.cookie];
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const request of await cache.keys()) out.push(request.url, await (await cache.match(request)).text());
  }
  for (const {name} of await indexedDB.databases()) {
    const db = await new Promise((yes, no) => {
      const r = indexedDB.open(name); r.onsuccess = () => yes(r.result); r.onerror = () => no(r.error);
    });
    for (const store of db.objectStoreNames) out.push(JSON.stringify(await new Promise((yes, no) => {
      const r = db.transaction(store).objectStore(store).getAll(); r.onsuccess = () => yes(r.result); r.onerror = () => no(r.error);
    })));
    db.close();
  }
  return out.join("\\n");
}"""


def test_signing_out_leaves_no_childs_name_on_the_tablet(site, open_page):
    """localhost counts as a secure context, so the worker keeps pages here as it would behind HTTPS."""
    now = timezone.now()
    site.member_a.nickname = "Turnstone"
    site.member_a.save()
    _, tiers = make.mission_with_tiers(site.club)
    make.ProgressFactory(team=site.team_a, tier=tiers[0].tier)
    term = make.TermFactory(club=site.club, starts_on=now.date(), ends_on=now.date() + dt.timedelta(days=30))
    make.SessionFactory(term=term, starts_at=now, ends_at=now + dt.timedelta(minutes=90))
    page = open_page(site.as_team_a, "/team/mission/", touch=True)
    assert "Turnstone" in page.inner_text("main")
    page.evaluate("navigator.serviceWorker.ready.then(() => 1)")
    page.reload()
    until_on(page, lambda: "Turnstone" in page.evaluate(_STORED), "the page to be kept for times without network")
    page.goto("/team/leave/")
    page.get_by_role("button", name="Sign out").tap()
    page.get_by_text("Signed out.").wait_for()
    until_on(page, lambda: "Turnstone" not in page.evaluate(_STORED), "what was kept to be taken away")
    page.context.set_offline(True)
    page.wait_for_timeout(100)
    assert "Turnstone" not in page.evaluate(_STORED)
