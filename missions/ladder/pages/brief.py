"""A mission's words and measures as a team reads them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import nh3
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from markdown_it import MarkdownIt

from classroom.site.figures import length_said
from missions.models import MissionVersion, TierVersion

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
        found.append(_("pictures"))
    if "link_open" in kinds:
        found.append(_("links (their words stay)"))
    if "hr" in kinds:
        found.append(_("lines across"))
    if "fence" in kinds or "code_block" in kinds:
        found.append(_("the box around program text"))
    if re.search(r"</?[a-zA-Z][^>\n]*>", markdown):
        found.append(_("HTML (it is shown as typed)"))
    if re.search(r"^\s*\|.*\|\s*$", markdown, re.MULTILINE):
        found.append(_("tables (they are shown as typed)"))
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
        SetUpMeasures(_("Table"), _size(version, unit)),
        SetUpMeasures(_("Base"), _corners(version.base, unit)),
        *(
            SetUpMeasures(_named(each, _("Target")), _corners(each["body"], unit))
            for each in (version.target, *edition.more_targets)
        ),
    ]
    found += [SetUpMeasures(_named(each, _("Obstacle")), _corners(each["outline"], unit)) for each in edition.obstacles]
    found += [
        SetUpMeasures(_("%(name)s (keep out)") % {"name": _named(each, _("Keep out"))}, _corners(each["outline"], unit))
        for each in edition.keep_outs
    ]
    return found


def _named(thing: dict[str, Any], otherwise: str) -> str:
    return str(thing.get("name") or otherwise).capitalize()


def _size(version: MissionVersion, unit: str) -> tuple[str, ...]:
    size = _("%(width)s long, %(depth)s deep") % {
        "width": length_said(version.width_mm, unit),
        "depth": length_said(version.depth_mm, unit),
    }
    lacks = version.missing
    if lacks is None:
        return (size,)
    sentences = {
        "far right": _("its far right corner is not there: %(width)s by %(depth)s"),
        "far left": _("its far left corner is not there: %(width)s by %(depth)s"),
        "near right": _("its near right corner is not there: %(width)s by %(depth)s"),
    }
    lengths = {"width": length_said(lacks.width_mm, unit), "depth": length_said(lacks.depth_mm, unit)}
    return (size, sentences[lacks.corner] % lengths)


def _corners(outline: Sequence[Sequence[float]], unit: str) -> tuple[str, ...]:
    xs, ys = [p[0] for p in outline], [p[1] for p in outline]
    upright = len(outline) == 4 and len(set(xs)) == 2 and len(set(ys)) == 2
    if upright:
        return (
            _("%(least)s to %(most)s from the left edge")
            % {"least": length_said(min(xs), unit), "most": length_said(max(xs), unit)},
            _("%(least)s to %(most)s from the near edge")
            % {"least": length_said(min(ys), unit), "most": length_said(max(ys), unit)},
        )
    return tuple(
        _("corner %(left)s from the left, %(near)s from the near edge")
        % {"left": length_said(x, unit), "near": length_said(y, unit)}
        for x, y in outline
    )
