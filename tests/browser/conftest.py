"""A real headless Chromium on the real site. Each page watches for what must never happen."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, TypeVar

import pytest
from django.conf import settings
from django.test import Client

from tests.patience import LONGEST_MS, until

T = TypeVar("T")
#: What htmx writes to the console when a part of a page has no place to go.
LOST_PARTS = ("htmx:targetError", "htmx:swapError", "htmx:oobErrorNoTarget")
#: The build with windows, which keeps more of a visitor than the one that never has any.
WINDOWED = os.environ.get("HELMROOM_CHROMIUM") or shutil.which("chromium") or ""
#: The same Chromium without what draws windows; the tests take less time with it.
CHROMIUM = os.environ.get("HELMROOM_CHROMIUM") or shutil.which("chromium-headless-shell") or WINDOWED
#: The address bar's drop-down is a page of its own, drawn anew for each context: 0.1 s of processor that nobody looks at.
NOT_LOOKED_AT = ["WebUIOmniboxPopup", "WebUIOmniboxAimPopup"]
#: What Playwright turns off: of two such lists Chromium takes the last.
OFF_BY_DEFAULT = [
    "AimEnabled",
    "AvoidCorsURLLoaderRestartOnRedirect",
    "AvoidUnnecessaryBeforeUnloadCheckSync",
    "DestroyProfileOnBrowserClose",
    "HttpsFirstBalancedModeAutoEnable",
    "HttpsUpgrades",
    "LensOverlay",
    "MediaRouter",
    "NetworkTimeServiceQuerying",
    "OptimizationHints",
    "PaintHolding",
    "PreconnectToSearch",
    "TcpPortRandomizationWin",
    "ThirdPartyStoragePartitioning",
]
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--disable-features=" + ",".join(OFF_BY_DEFAULT + NOT_LOOKED_AT),
]
# Playwright's loop runs in this thread; the ORM is used beside it, never inside it.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "tests/browser/" in str(item.path).replace(os.sep, "/"):
            item.add_marker(pytest.mark.browser)
            if not CHROMIUM:
                item.add_marker(pytest.mark.skip(reason="needs Debian's chromium (apt-get install chromium)"))


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    from playwright.sync_api import expect, sync_playwright

    with sync_playwright() as playwright:
        expect.set_options(timeout=LONGEST_MS)
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS, timeout=LONGEST_MS)
        yield browser
        browser.close()


def until_on(page: Any, look: Callable[[], T], what: str) -> T:
    """As ``until``, while the page goes on working."""
    return until(look, what, pause=lambda seconds: page.wait_for_timeout(1000 * seconds))


@dataclass
class Watch:
    """What a page did that it must not: left the origin, broke the content policy, failed in script."""

    origin: str
    foreign: list[str] = field(default_factory=list)
    policy: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)

    def on(self, page: Any) -> None:
        page.on("request", lambda r: self._request(r.url))
        page.on("console", lambda m: self._console(m.text))
        page.on("pageerror", lambda e: self.errors.append(str(e)))

    def _request(self, url: str) -> None:
        if not url.startswith((self.origin, "data:", "blob:", "about:")):
            self.foreign.append(url)

    def _console(self, text: str) -> None:
        if "Content Security Policy" in text:
            self.policy.append(text)
        if text in LOST_PARTS:
            self.errors.append(text)


@pytest.fixture
def open_page(chromium: Any, live_server: Any) -> Iterator[Callable[..., Any]]:
    """``open_page(client=cast.as_coach, path="/", width=1280, height=800, dark=False, touch=False)`` gives a page.

    The signed-in test client's session cookie goes to the browser. At the end of the test nothing may have been asked
    of another origin, no content policy broken, no script failed.
    """
    contexts: list[Any] = []
    watches: list[Watch] = []

    def open_(client: Client | None = None, path: str = "/", *, width: int = 1280, height: int = 800, dark: bool = False, touch: bool = False, **more: Any) -> Any:  # fmt: skip
        context = chromium.new_context(
            viewport={"width": width, "height": height},
            color_scheme="dark" if dark else "light",
            has_touch=touch,
            base_url=live_server.url,
            **more,
        )
        context.set_default_timeout(LONGEST_MS)
        contexts.append(context)
        if client is not None and settings.SESSION_COOKIE_NAME in client.cookies:
            value = client.cookies[settings.SESSION_COOKIE_NAME].value
            context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": value, "url": live_server.url}])
        page = context.new_page()
        watch = Watch(live_server.url)
        watch.on(page)
        watches.append(watch)
        page.watch = watch
        page.goto(path)
        return page

    yield open_
    for context in contexts:
        context.close()
    for watch in watches:
        assert watch.foreign == [], "a request left the origin"
        assert watch.policy == [], "the content security policy was broken"
        assert watch.errors == [], "a script failed"


@pytest.fixture
def axe_clean() -> Callable[[Any], None]:
    """No accessibility finding of axe on this page, target size included."""
    from axe_playwright_python.sync_playwright import Axe

    def check(page: Any) -> None:
        only = {"resultTypes": ["violations"], "rules": {"target-size": {"enabled": True}}}  # not all that is well, too
        results = Axe().run(page, options=only)
        found = [
            f"{v['id']}: {v['help']} {[n['html'][:160] for n in v['nodes'][:3]]}"
            for v in results.response["violations"]
        ]
        assert found == []

    return check


@pytest.fixture
def site(transactional_db: None, cast: Any, live_server: Any) -> Any:
    """The shared cast on a live server (rows committed, so the server's threads see them)."""
    return cast
