"""What a tablet waits for: the first load of “Log a run” on a slow tablet, and the map after a change of the course.

Headless Chromium against a real server process; the slow tablet is Chromium's own throttling (ten times slower
processor, 1.6 Mbit/s down and up, 20 ms each way), with an empty cache.
"""

from __future__ import annotations

import contextlib
import functools
import os
import shutil
import time
from collections.abc import Iterator
from typing import Any

from benchmarks.figures import Figure, percentile
from benchmarks.tablet_server import tablet_site

CHROMIUM = os.environ.get("HELMROOM_CHROMIUM") or shutil.which("chromium") or ""
FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-sync"]
SLOWER, BITS_PER_S, LATENCY_MS = 10, 1_600_000, 40
LOADS, CHANGES = 20, 60
#: A drawing of 218 bytes: what the browser itself takes for any page, on this machine at this moment.
BARE = "/static/site/mark.svg"
#: A page within it was there soon enough.
SOON_S = 1.0
#: A clear course over the benchmark's table: (button, number).
COURSE = [
    ("drive", 118),
    ("left", 45),
    ("drive", 51),
    ("right", 45),
    ("push", 10),
    ("back", 12),
    ("right", 135),
    ("drive", 51),
    ("right", 45),
    ("drive", 100),
]

#: When the page is loaded, all its modules have run; and how much of it moved by itself (W3C Layout Instability).
USABLE = """window.moved = 0;
new PerformanceObserver((list) => { for (const one of list.getEntries()) if (!one.hadRecentInput) window.moved += one.value; })
  .observe({type: 'layout-shift', buffered: true});
addEventListener('load', () => { window.usable = performance.now(); });"""


@contextlib.contextmanager
def browser_on_site() -> Iterator[tuple[Any, dict[str, Any]]]:
    from playwright.sync_api import sync_playwright

    with tablet_site(1) as site, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser, site
        browser.close()


def tablet(browser: Any, site: dict[str, Any]) -> Any:
    context = browser.new_context(base_url=f"http://127.0.0.1:{site['port']}", viewport={"width": 820, "height": 1180})
    value = site["teams"][0]["session"]
    context.add_cookies([{"name": "sessionid", "value": value, "url": f"http://127.0.0.1:{site['port']}"}])
    return context.new_page()


def slow_tablet(browser: Any, site: dict[str, Any]) -> tuple[Any, list[float]]:
    """A page of a slow tablet, and the bytes of each thing that it fetches."""
    page = tablet(browser, site)
    wire = page.context.new_cdp_session(page)
    wire.send("Network.enable")
    wire.send("Network.setCacheDisabled", {"cacheDisabled": True})
    wire.send("Network.setBypassServiceWorker", {"bypass": True})
    rate = {"downloadThroughput": BITS_PER_S / 8, "uploadThroughput": BITS_PER_S / 8, "latency": LATENCY_MS}
    wire.send("Network.emulateNetworkConditions", {"offline": False} | rate)
    wire.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    received: list[float] = []
    wire.on("Network.loadingFinished", lambda event: received.append(event["encodedDataLength"]))
    page.add_init_script(USABLE)
    return page, received


@functools.cache
def first_loads() -> dict[str, list[float]]:
    """Of each load: the seconds until it is loaded and its stopwatch can be pressed, its bytes, and how much moved.

    And beside every fourth load the seconds of an almost empty drawing.
    """
    found: dict[str, list[float]] = {"seconds": [], "bytes": [], "moved": [], "bare": []}
    with browser_on_site() as (browser, site):
        tablet(browser, site).goto("/team/log/")  # the server's own first time
        for n in range(LOADS):
            page, received = slow_tablet(browser, site)
            page.goto("/team/log/", wait_until="load")
            page.locator("#kept .chip").wait_for()
            found["seconds"].append(page.evaluate("window.usable") / 1000)
            found["bytes"].append(sum(received))
            found["moved"].append(page.evaluate("window.moved"))
            page.context.close()
            if n % 4 == 0:
                page, _ = slow_tablet(browser, site)
                page.goto(BARE, wait_until="load")
                found["bare"].append(page.evaluate("window.usable") / 1000)
                page.context.close()
    return found


@functools.cache
def course_changes() -> list[float]:
    """From a tap on a stepper to the new map and verdict on the page."""
    took = []
    with browser_on_site() as (browser, site):
        page = tablet(browser, site)
        page.goto("/team/course/")
        for button, number in COURSE:
            page.click(f'[data-add="{button}"]')
            page.fill("#amount", str(number))
            page.press("#amount", "Enter")
        page.locator(".verdict .chip.ready").wait_for(timeout=120_000)  # kernels may have to be compiled first
        page.wait_for_timeout(500)
        for n in range(CHANGES):
            seen = int(page.get_attribute("#course", "data-seen") or 0)
            begun = time.perf_counter()
            page.click('[data-by="1"]' if n % 2 else '[data-by="-1"]')
            page.wait_for_selector(f'#course[data-seen="{seen + 1}"]')
            took.append(time.perf_counter() - begun)
    return took


def weight() -> Figure:
    return Figure(
        max(first_loads()["bytes"]) / 1000, "kB", 120.0, "everything over the wire for “Log a run”, cache empty"
    )


def first_load() -> Figure:
    took = first_loads()["seconds"]
    soon = sum(each <= SOON_S for each in took)
    note = f"slowest of {LOADS} loads, {soon} within {SOON_S:g} s, median {percentile(took, 0.5):.2f} s: processor "
    note += (
        f"{SLOWER} times slower, {BITS_PER_S / 1e6} Mbit/s, {LATENCY_MS} ms; an almost empty drawing takes a median "
    )
    note += f"of {percentile(first_loads()['bare'], 0.5):.2f} s here"
    return Figure(max(took), "s", SOON_S, note)


def first_load_moves() -> Figure:
    return Figure(max(first_loads()["moved"]), "", 0.0, f"layout shift of “Log a run”, worst of {LOADS} slow loads")


def course_change() -> Figure:
    took = course_changes()
    note = f"p95 over {len(took)} taps on a course of {len(COURSE)} steps; median {percentile(took, 0.5):.3f} s"
    return Figure(percentile(took, 0.95), "s", 0.3, note)


FIGURES = {
    "tablet.log_weight": weight,
    "tablet.log_first_load": first_load,
    "tablet.log_moves": first_load_moves,
    "tablet.course_change_p95": course_change,
}
