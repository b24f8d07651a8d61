"""Somebody who gets about by what a page shows or says: by pointing, by keys alone, or by the accessibility tree alone."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

#: Between two acts a key is pressed so often at most to get to the next thing (of ``guard.md``'s kind: an own bar).
MOST_TABS = 25
#: What is written into, by its role in the accessibility tree; a combobox that one writes into makes suggestions.
BOXES = ("textbox", "spinbutton", "combobox")
_ACT = "function() { const there = this.isConnected; if (there) { %s } return there; }"
_HAS_FOCUS = "it => it === document.activeElement"
_LIES_BEHIND = """it => {
  const at = document.activeElement;
  return Boolean(at.compareDocumentPosition(it) & Node.DOCUMENT_POSITION_FOLLOWING);
}"""
_FOCUS = """() => { const it = document.activeElement; return `${it.tagName} ${it.id} ${(it.textContent || '').trim().slice(0, 40)}`; }"""


@dataclass
class Count:
    """What hands did: buttons and links pressed, boxes gone to, letters written into them."""

    presses: int = 0
    boxes: int = 0
    letters: int = 0

    def __add__(self, other: Count) -> Count:
        return Count(self.presses + other.presses, self.boxes + other.boxes, self.letters + other.letters)


@dataclass(frozen=True)
class Thing:
    """What is pressed or written into: the how manieth of that role and name, in a landmark or dialog."""

    role: str
    name: re.Pattern[str]
    within: str = "main"
    nth: int = 0


@dataclass
class Hands:
    """With a pointer. No address is ever used but the one that was given out."""

    page: Any
    count: Count = field(default_factory=Count)

    def open(self, address: str) -> None:
        """An address from outside, followed in a mail or given to the browser."""
        self.page.goto(address)

    def press(self, name: str, role: str = "button", within: str = "main", nth: int = 0) -> None:
        self.do_press(Thing(role, re.compile(name), within, nth))
        self.count.presses += 1

    def follow(self, name: str, within: str = "main") -> None:
        self.press(name, "link", within)

    def write(self, label: str, words: str) -> None:
        self.do_write(Thing("box", re.compile(rf"^\s*{re.escape(label)}"), "main"), words)
        self.count.boxes += 1
        self.count.letters += len(words)

    def choose(self, label: str, words: str) -> None:
        """From a list: opened, and one of it pressed."""
        self.do_choose(Thing("combobox", re.compile(rf"^\s*{re.escape(label)}"), "main"), words)
        self.count.presses += 2

    def sees(self, words: str) -> None:
        """What a press came to: nobody leaves a page before."""
        self.page.get_by_text(re.compile(words)).locator("visible=true").first.wait_for()

    def find(self, thing: Thing) -> Any:
        within = self.page.get_by_role(thing.within)
        if thing.role == "box":
            return within.get_by_label(thing.name).nth(thing.nth)
        return within.get_by_role(thing.role, name=thing.name).nth(thing.nth)

    def do_press(self, thing: Thing) -> None:
        self.find(thing).click()

    def do_write(self, thing: Thing, words: str) -> None:
        self.find(thing).fill(words)

    def do_choose(self, thing: Thing, words: str) -> None:
        self.find(thing).select_option(label=words)


@dataclass
class Keys(Hands):
    """With keys alone; ``tabs`` are those between two acts."""

    tabs: list[int] = field(default_factory=list)

    def do_press(self, thing: Thing) -> None:
        self._go_to(thing)
        self.page.keyboard.press("Space" if thing.role == "radio" else "Enter")

    def do_write(self, thing: Thing, words: str) -> None:
        self._go_to(thing)
        self.page.keyboard.press("Control+a")
        if "\n" in words:
            self.page.keyboard.insert_text(words)  # as pasted
        else:
            self.page.keyboard.type(words)

    def do_choose(self, thing: Thing, words: str) -> None:
        self._go_to(thing)
        self.page.keyboard.type(words)

    def _go_to(self, thing: Thing) -> None:
        there = self.find(thing)
        there.wait_for()
        passed: list[str] = []
        if thing.within == "main" and self.page.evaluate("document.activeElement === document.body"):
            self._tab("Tab", passed)
            if self.page.evaluate("document.activeElement.matches('a[href=\"#main\"]')"):
                self.page.keyboard.press("Enter")
        key = "Tab" if there.evaluate(_LIES_BEHIND) else "Shift+Tab"
        while not there.evaluate(_HAS_FOCUS):
            assert len(passed) < MOST_TABS, f"{thing} is not reached in {MOST_TABS} keys, but {passed}"
            self._tab(key, passed)
        self.tabs.append(len(passed))

    def _tab(self, key: str, passed: list[str]) -> None:
        self.page.keyboard.press(key)
        passed.append(self.page.evaluate(_FOCUS))


@dataclass
class Tree(Hands):
    """By what Chromium tells a screen reader, and nothing else: roles, names, landmarks, and the act that each offers."""

    def do_press(self, thing: Thing) -> None:
        self._call(thing, _ACT % "this.click();")

    def do_write(self, thing: Thing, words: str) -> None:
        self._call(thing, _ACT % "this.focus(); this.select();")
        self.session.send("Input.insertText", {"text": words})

    def do_choose(self, thing: Thing, words: str) -> None:
        self._call(thing, _ACT % "this.focus();")
        self.page.keyboard.type(words)

    def sees(self, words: str) -> None:
        """Said, too: it stands in the tree."""
        self._until(lambda: self._says(re.compile(words)), f"the tree says {words}")

    def _says(self, words: re.Pattern[str]) -> bool:
        nodes = self.session.send("Accessibility.getFullAXTree")["nodes"]
        return any(words.search(node.get("name", {}).get("value", "")) for node in nodes if not node["ignored"])

    @cached_property
    def session(self) -> Any:
        return self.page.context.new_cdp_session(self.page)

    def _call(self, thing: Thing, act: str) -> None:
        """Looked for again where the page has drawn it anew since the tree told of it."""
        self._until(lambda: self._does(thing, act), f"the tree tells of {thing}")

    def _does(self, thing: Thing, act: str) -> bool:
        node = self._told(thing)
        if node is None:
            return False
        try:
            held = self.session.send("DOM.resolveNode", {"backendNodeId": node})["object"]["objectId"]
        except Exception as gone:
            if "No node" not in str(gone):
                raise
            return False
        done = self.session.send(
            "Runtime.callFunctionOn",
            {"objectId": held, "functionDeclaration": act, "userGesture": True, "returnByValue": True},
        )
        return bool(done["result"].get("value"))

    def _until(self, look: Callable[[], Any], what: str) -> None:
        from tests.patience import until  # late: it reads the tests' settings, which docs.first_evening goes without

        until(look, what, pause=lambda seconds: self.page.wait_for_timeout(1000 * seconds))

    def _told(self, thing: Thing) -> int | None:
        """The node, once it is told of as what it is, can be used, and stands in its landmark."""
        nodes = self.session.send("Accessibility.getFullAXTree")["nodes"]
        by_key = {node["nodeId"]: node for node in nodes}
        roles = BOXES if thing.role == "box" else (thing.role,)
        found = [
            node
            for node in nodes
            if not node["ignored"]
            and node["role"]["value"] in roles
            and thing.name.search(node.get("name", {}).get("value", ""))
            and not _property(node, "disabled")
            and thing.within in _landmarks(node, by_key)
        ]
        return int(found[thing.nth]["backendDOMNodeId"]) if len(found) > thing.nth else None


def _property(node: Any, name: str) -> Any:
    return next((each["value"]["value"] for each in node.get("properties", []) if each["name"] == name), None)


def _landmarks(node: Any, by_key: dict[str, Any]) -> set[str]:
    roles = set()
    while node := by_key.get(node.get("parentId", "")):
        roles.add(node.get("role", {}).get("value", ""))
    return roles
