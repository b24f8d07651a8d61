from __future__ import annotations

from classroom.site.kept_part import kept_markup


def test_the_same_values_are_drawn_once_and_others_anew():
    drawn = []

    def draw(words):
        return kept_markup("map", lambda: drawn.append(words) or f"<b>{words}</b>", words)

    assert [draw("gate"), draw("gate"), draw("bank")] == ["<b>gate</b>", "<b>gate</b>", "<b>bank</b>"]
    assert drawn == ["gate", "bank"]
    assert kept_markup("other", lambda: "x", "gate") == "x"
