"""A mission's words and measures as a team reads them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import nh3
from django.utils.safestring import SafeString, mark_safe
from markdown_it import MarkdownIt

from missions.models import MissionVersion, TierVersion
from motion.units import format_length

_READER = MarkdownIt("commonmark", {"html": False})
_TAGS = {"p", "strong", "em", "ul", "ol", "li", "h3", "h4", "code", "br", "blockquote"}


def brief_html(markdown: str) -> SafeString:
    """Markdown as HTML of a few plain elements: no links, no pictures, nothing that a coach's typing could run.

    Headings come below those of the page around it.
    """
    tokens = _READER.parse(markdown)
    for token in tokens:
        if token.type in ("heading_open", "heading_close"):
            token.tag = "h3" if token.tag in ("h1", "h2") else "h4"
    drawn = _READER.renderer.render(tokens, _READER.options, {})
    return mark_safe(nh3.clean(drawn, tags=_TAGS, attributes={}))


def brief_drops(markdown: str) -> list[str]:
    """What of a coach's Markdown no team will see, in words; empty when all of it is shown."""
    tokens = [inner for token in _READER.parse(markdown) for inner in (token, *(token.children or ()))]
    kinds = {token.type for token in tokens}
    found = []
    if "image" in kinds:
        found.append("pictures")
    if "link_open" in kinds:
        found.append("links (their words stay)")
    if "hr" in kinds:
        found.append("lines across")
    if "fence" in kinds or "code_block" in kinds:
        found.append("the box around program text")
    if re.search(r"</?[a-zA-Z][^>\n]*>", markdown):
        found.append("HTML (it is shown as typed)")
    if re.search(r"^\s*\|.*\|\s*$", markdown, re.MULTILINE):
        found.append("tables (they are shown as typed)")
    return found


@dataclass(frozen=True)
class SetUpMeasures:
    """One thing on the table and where it stands, as measured from the left edge and from the near edge."""

    name: str
    measures: tuple[str, ...]


def set_up_measures(edition: TierVersion, unit: str) -> list[SetUpMeasures]:
    """Everything a team has to set down, in the order of setting up."""
    version = edition.version
    found = [
        SetUpMeasures("Table", _size(version, unit)),
        SetUpMeasures("Base", _corners(version.base, unit)),
        *(
            SetUpMeasures(str(each.get("name") or "Target").capitalize(), _corners(each["body"], unit))
            for each in (version.target, *edition.more_targets)
        ),
    ]
    found += [
        SetUpMeasures(str(each.get("name") or "Obstacle").capitalize(), _corners(each["outline"], unit))
        for each in edition.obstacles
    ]
    found += [
        SetUpMeasures(f"{str(each.get('name') or 'Keep out').capitalize()} (keep out)", _corners(each["outline"], unit))
        for each in edition.keep_outs
    ]
    return found


def _size(version: MissionVersion, unit: str) -> tuple[str, ...]:
    size = f"{_say(version.width_mm, unit)} long, {_say(version.depth_mm, unit)} deep"
    lacks = version.missing
    if lacks is None:
        return (size,)
    missing = f"{_say(lacks.width_mm, unit)} by {_say(lacks.depth_mm, unit)}"
    return (size, f"its {lacks.corner} corner is not there: {missing}")


def _corners(outline: Sequence[Sequence[float]], unit: str) -> tuple[str, ...]:
    xs, ys = [p[0] for p in outline], [p[1] for p in outline]
    upright = len(outline) == 4 and len(set(xs)) == 2 and len(set(ys)) == 2
    if upright:
        return (
            f"{_say(min(xs), unit)} to {_say(max(xs), unit)} from the left edge",
            f"{_say(min(ys), unit)} to {_say(max(ys), unit)} from the near edge",
        )
    return tuple(f"corner {_say(x, unit)} from the left, {_say(y, unit)} from the near edge" for x, y in outline)


def _say(mm: Any, unit: str) -> str:
    return format_length(float(mm), unit)
