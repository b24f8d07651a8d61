"""A brief in Markdown as teams see it: a few plain elements, and nothing that a coach's typing could run or load."""

from __future__ import annotations

import re

import pytest

from missions.ladder.pages.brief import brief_html

HOSTILE = [
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "<b onclick=alert(1)>hi</b>",
    "[press](javascript:alert(1))",
    "[press](https://elsewhere.example/)",
    "![see](https://elsewhere.example/x.png)",
    '<iframe srcdoc="<script>alert(1)</script>"></iframe>',
    "<svg><a xlink:href='javascript:alert(1)'>x</a></svg>",
    "<https://elsewhere.example/>",
    "<style>*{display:none}</style>",
    "`<script>`\n\n    <script>alert(1)</script>",
    "[a]: javascript:alert(1)\n\n[a]",
    "# <script>alert(1)</script>",
]
ALLOWED = {"p", "strong", "em", "ul", "ol", "li", "h3", "h4", "code", "br", "blockquote"}


@pytest.mark.parametrize("typed", HOSTILE)
def test_what_could_run_or_load_comes_out_as_text_or_not_at_all(typed: str) -> None:
    html = brief_html(typed)
    tags = re.findall(r"<\s*/?\s*([a-z0-9]+)([^>]*)>", html, flags=re.IGNORECASE)
    assert {name for name, _ in tags} <= ALLOWED
    assert all(rest.strip(" /") == "" for _, rest in tags)


def test_plain_words_bold_slanted_and_lists_are_kept() -> None:
    html = brief_html("The tide **comes in**, *soon*.\n\n- one\n- two")
    assert "<strong>comes in</strong>" in html and "<em>soon</em>" in html and html.count("<li>") == 2


@pytest.mark.parametrize(
    ("typed", "tag"), [("# Light", "h3"), ("## Light", "h3"), ("### Light", "h4"), ("###### x", "h4")]
)
def test_headings_stay_headings_below_those_of_the_page(typed: str, tag: str) -> None:
    assert re.search(rf"<{tag}>\w+</{tag}>", brief_html(typed))
