"""Every button of a role, pressed once: found by following links, told apart by what it sends."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

from tests.patience import LONGEST_S

NUMBERS = re.compile(r"[0-9a-f]{8}-[0-9a-f-]{27}|[A-Za-z0-9_-]{40,}|\d+")
#: Files, and where a look must not lead.
NOT_PAGES = re.compile(r"logout|/support/|\.(ics|csv|json|pdf|svg|zip)$|/export|/feed/|^/static/|download")
#: What takes rows or the sign-in away is pressed when all else has been.
LAST = re.compile(r"erase|remove|delete|away|cancel|archive|stop|left|revoke|retire|withdraw|take|end|purge", re.I)
VERY_LAST = re.compile(r"sign.?out|logout|password|leave", re.I)
WHO = re.compile(r"/coaches/|/clubs/|/people/|tablets")
#: A press is over when nothing is being asked for and nothing has been for so long.
QUIET_MS = 250
#: As long on a page that came by the press: what the old one meant to ask later is gone with it.
NEW_PAGE_QUIET_MS = 50

_FIND = """() => [...document.querySelectorAll('button, input[type=submit]')].map((one, index) => {
  const form = one.form;
  const sends = one.type === 'submit' && form;
  const to = one.getAttribute('formaction') || one.getAttribute('hx-post') || one.getAttribute('hx-get')
    || (sends ? form.getAttribute('hx-post') || form.getAttribute('action') || location.pathname : '');
  return {index, to, sends: Boolean(sends), name: one.name, value: one.value, off: one.disabled,
    text: (one.textContent || one.value || '').replace(/\\s+/g, ' ').trim(), cls: one.className.split(' ')[0] || ''};
})"""
_READY = """([index, text]) => {
  const one = document.querySelectorAll('button, input[type=submit]')[index];
  if (!one || (one.textContent || one.value || '').replace(/\\s+/g, ' ').trim() !== text) return null; // drawn anew meanwhile
  for (let up = one; up; up = up.parentElement) {
    if (up.tagName === 'DETAILS') up.open = true;
    if (up.tagName === 'DIALOG' && !up.open) up.showModal();
  }
  for (const field of one.form ? one.form.elements : []) {
    if (!field.required || field.value || field.disabled) continue;
    const usual = {email: 'wader@example.org', number: field.min || '1', date: '2026-11-18', time: '16:00'};
    field.value = usual[field.type] || 'Wader';
    field.dispatchEvent(new Event('input', {bubbles: true}));
  }
  one.dataset.pressNow = '1'; // what refreshes itself may move the others
  return Boolean(one.getClientRects().length);
}"""
_SAID = """() => [...document.querySelectorAll('[role=alert], .notice, .errorlist, .field-error, .wrong, main h1 + p, .help.error')]
  .some(one => one.getClientRects().length && one.textContent.trim())"""
_FACE = "() => document.documentElement.outerHTML + [...document.querySelectorAll('input,select,textarea')].map(f => f.value)"


@dataclass
class Walk:
    """What was pressed, and what was found wrong."""

    page: Any
    pressed: set[tuple[str, ...]] = field(default_factory=set)
    findings: list[str] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)
    done: int = 0
    _kinds: set[str] = field(default_factory=set)
    _later: list[tuple[str, dict[str, Any]]] = field(default_factory=list)
    _answers: list[tuple[int, str, str]] = field(default_factory=list)
    _asking: set[Any] = field(default_factory=set)  # without an answer yet

    def __post_init__(self) -> None:
        self.page.on("request", lambda r: self._asking.add(r))
        self.page.on("response", lambda r: self._asking.discard(r.request))
        self.page.on("requestfailed", lambda r: self._asking.discard(r))
        self.page.on("response", lambda r: self._answers.append((r.status, r.request.method, urlsplit(r.url).path)))
        self.page.on("dialog", lambda dialog: dialog.accept())
        self.page.on("download", lambda download: download.cancel())
        self.page.add_init_script("window.print = () => { document.documentElement.dataset.printed = '1'; };")

    def over(self, doors: list[str]) -> Walk:
        for path in self._pages(doors):
            for button in self._new_ones(path):
                self._press(path, button)
        for path, button in sorted(self._later, key=lambda one: _how_late(_words(one[1]))):
            self._press(path, button)
        return self

    def _pages(self, doors: list[str]) -> Iterator[str]:
        """One page of each kind that links lead to."""
        waiting = list(doors)
        while waiting:
            path = waiting.pop(0)
            kind = NUMBERS.sub("n", path.split("?")[0])
            if kind in self._kinds or NOT_PAGES.search(path):
                continue
            self._kinds.add(kind)
            answer = self.page.goto(path)
            if answer is None or not answer.ok or "text/html" not in answer.headers.get("content-type", ""):
                if answer is not None and answer.status >= 500:
                    self.findings.append(f"{path}: the page itself answers {answer.status}")
                continue
            links = self.page.eval_on_selector_all("a[href]", "all => all.map(one => one.getAttribute('href'))")
            waiting += [link.split("#")[0] for link in links if link.startswith("/")]
            yield path

    def _new_ones(self, path: str) -> Iterator[dict[str, Any]]:
        for button in self.page.evaluate(_FIND):
            to = NUMBERS.sub("n", button["to"].split("?")[0])
            shown = NUMBERS.sub("n", button["text"])[:14]
            kind = (to, button["name"], NUMBERS.sub("n", button["value"])[:30], "" if button["name"] else shown)
            kind = kind if button["sends"] else (NUMBERS.sub("n", path), shown, button["cls"], button["name"])
            if button["off"] or kind in self.pressed:
                continue
            self.pressed.add(kind)
            words = _words(button)
            if LAST.search(words) or VERY_LAST.search(words):
                self._later.append((path, button))
            else:
                yield button

    def _press(self, path: str, button: dict[str, Any]) -> None:
        answer = self.page.goto(path)
        if answer is None or not answer.ok:
            self.gone.append(f"{path}: {button['text'][:40]}")
            return  # an earlier press took the page away
        if not self._ready(button):
            self.gone.append(f"{path}: {button['text'][:40]}")
            return  # shown only in another state or at another width
        face = self.page.evaluate(_FACE)
        self.page.evaluate("() => { window.pressedHere = true; }")
        self._answers.clear()
        label = f"{path}: “{button['text'][:50]}”"
        try:
            if not self._click(button):
                self.gone.append(label)
                return  # the page took it away by itself
        except Exception as error:  # what hides it from a person is a finding too
            self.findings.append(f"{label} cannot be pressed: {str(error).splitlines()[0]}")
            return
        self.done += 1
        self._settle()
        bad = [one for one in self._answers if one[0] >= 400 and not one[2].startswith("/static/")]
        for status, method, to in bad:
            if status >= 500 or status in (400, 404, 405):
                self.findings.append(f"{label}: {method} {to} answers {status}")
            elif not self.page.evaluate(_SAID):
                self.findings.append(f"{label}: {method} {to} answers {status} and no word of it is on the page")
        if self._is_same_page() and self.page.evaluate("() => document.activeElement === document.body"):
            self.findings.append(f"{label} loses the focus")
        if not self._answers and self.page.evaluate(_FACE) == face:
            valid = self.page.evaluate("() => [...document.forms].every(form => form.checkValidity())")
            if valid:
                self.findings.append(f"{label} does nothing")

    def _click(self, button: dict[str, Any]) -> bool:
        """Pressed, or gone from a page that draws itself anew; a press on what is just being replaced is tried again."""
        while True:
            one = self.page.query_selector("[data-press-now]")
            try:
                if one:
                    one.click()
                    return True
            except Exception:
                if one.evaluate("one => one.isConnected"):
                    raise
            if not self._ready(button):
                return False

    def _ready(self, button: dict[str, Any]) -> bool:
        """Whether it can be pressed now; looked for again when the page draws itself anew between two looks."""
        told = ("to", "name", "text")
        while True:
            same = [one for one in self.page.evaluate(_FIND) if all(one[key] == button[key] for key in told)]
            if not same or same[0]["off"]:
                return False
            ready = self.page.evaluate(_READY, [same[0]["index"], button["text"]])
            if ready is not None:
                return bool(ready)

    def _settle(self) -> None:
        self.page.wait_for_timeout(NEW_PAGE_QUIET_MS)
        seen, ends = -1, time.monotonic() + LONGEST_S
        while seen != len(self._answers) or self._asking:
            if time.monotonic() > ends:
                self.findings += [f"{self.page.url}: {one.url} is never answered" for one in self._asking]
                self._asking.clear()
            seen = len(self._answers)
            waits = not self._asking and self._is_same_page()
            self.page.wait_for_timeout(QUIET_MS if waits else NEW_PAGE_QUIET_MS)
            self.page.wait_for_load_state("load")

    def _is_same_page(self) -> bool:
        try:
            return bool(self.page.evaluate("() => window.pressedHere"))
        except Exception:  # it is just going
            return False


def _how_late(words: str) -> int:
    """Rows go first, then who may come in, then one's own sign-in."""
    return 2 if VERY_LAST.search(words) else 1 if WHO.search(words) else 0


def _words(button: dict[str, Any]) -> str:
    return f"{button['to']} {button['name']} {button['value']} {button['text']}"
