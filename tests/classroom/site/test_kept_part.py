from __future__ import annotations

from unittest import mock

from django.template import Context, Template
from django.utils import timezone
from django.utils.translation import get_language, override

from classroom.site.kept_part import kept_markup


def test_the_same_values_are_drawn_once_and_others_anew():
    drawn = []

    def draw(words):
        return kept_markup("map", lambda: drawn.append(words) or f"<b>{words}</b>", words)

    assert [draw("gate"), draw("gate"), draw("bank")] == ["<b>gate</b>", "<b>gate</b>", "<b>bank</b>"]
    assert drawn == ["gate", "bank"]
    assert kept_markup("other", lambda: "x", "gate") == "x"


def test_a_part_of_a_template_is_drawn_anew_for_other_values_another_language_or_another_zone():
    page = Template('{% load i18n %}{% kept_part "components/club_mark.html" told %}')
    drawn = []

    class Part:
        def render(self, context):
            drawn.append(context["told"])
            return f"{context['told']} {get_language()} {timezone.get_current_timezone_name()}"

    def shown(told):
        context = Context({"told": told})
        with context.bind_template(page), mock.patch.object(page.engine, "get_template", lambda name: Part()):
            return page.nodelist.render(context)

    with timezone.override("Europe/Lisbon"):
        assert [shown("a"), shown("a"), shown("b")] == [
            "a en-gb Europe/Lisbon",
            "a en-gb Europe/Lisbon",
            "b en-gb Europe/Lisbon",
        ]
        with override("de"):
            assert shown("a") == "a de Europe/Lisbon"
    with timezone.override("Europe/Vienna"):
        assert shown("a") == "a en-gb Europe/Vienna"
    assert drawn == ["a", "b", "a", "a"]
