"""The forms of a page as a browser would send them: where to, and each field with what stands in it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from urllib.parse import urljoin, urlsplit

from django.test.html import Element, parse_html

ASKS = ("hx-post", "hx-put", "hx-delete")


@dataclass
class PageForm:
    to: str
    post: bool
    fields: list[tuple[str, str]] = field(default_factory=list)
    files: list[str] = field(default_factory=list)

    def kind(self) -> tuple[str, ...]:
        """Two forms of one kind differ only in their values."""
        return (self.to, str(self.post), *sorted({name for name, _ in self.fields} | set(self.files)))


def page_forms(html: str, address: str) -> list[PageForm]:
    """All forms of a page, what asks by itself (``hx-post``) and buttons with an address of their own."""
    everything = list(_walk(parse_html(html), None))
    found, by_element = [], {}
    ids: dict[str, Element] = {}
    for one, at, _ in everything:
        if one.name == "form":
            asks = _asks(at)
            to = at.get("action", "") if asks is None else asks
            form = PageForm(_full(to, address), asks is not None or at.get("method", "get").lower() == "post")
            by_element[id(one)] = form
            found.append(form)
            ids[at.get("id", "")] = one
    for one, at, inside in everything:
        owner = ids.get(at["form"]) if "form" in at else inside
        form = by_element.get(id(owner)) if owner is not None else None
        if form is not None and at.get("name"):
            if one.name == "input" and at.get("type") == "file":
                form.files.append(at["name"])
            elif one.name in ("input", "button", "select", "textarea"):
                form.fields.append((at["name"], _value(one, at)))
    for one, at, inside in everything:
        asks = _asks(at) if one.name != "form" else None
        to = at.get("formaction") if asks is None else asks
        if to is not None:
            own = by_element.get(id(inside))
            extra = [(name, str(value)) for name, value in json.loads(at.get("hx-vals") or "{}").items()]
            found.append(PageForm(_full(to, address), True, [*(own.fields if own else []), *extra]))
    return found


def _walk(element: Element, inside: Element | None) -> Iterator[tuple[Element, dict[str, str], Element | None]]:
    for child in element.children:
        if isinstance(child, str):
            continue
        yield child, {name: value or "" for name, value in child.attributes}, inside
        yield from _walk(child, child if child.name == "form" else inside)


def _asks(at: dict[str, str]) -> str | None:
    return next((at[name] for name in ASKS if name in at), None)


def _full(to: str, address: str) -> str:
    parts = urlsplit(urljoin(address, to))
    return parts.path + (f"?{parts.query}" if parts.query else "")


def _value(one: Element, at: dict[str, str]) -> str:
    if one.name == "textarea":
        return "".join(child for child in one.children if isinstance(child, str))
    if one.name == "select":
        options = [(dict(o.attributes), "".join(c for c in o.children if isinstance(c, str))) for o in _options(one)]
        chosen = next((o for o in options if "selected" in o[0]), options[0] if options else ({}, ""))
        return chosen[0].get("value") or ""
    return at.get("value", "on" if at.get("type") == "checkbox" else "")


def _options(one: Element) -> Iterator[Element]:
    for child in one.children:
        if not isinstance(child, str):
            if child.name == "option":
                yield child
            else:
                yield from _options(child)
