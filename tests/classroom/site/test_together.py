"""Numbers stay beside their units, in what flows and nowhere else."""

from __future__ import annotations

import pytest
from django.urls import reverse

from classroom.site.together import keep_together


@pytest.mark.parametrize(
    ("page", "kept"),
    [
        ("<p>Lands 7.4 cm left and 2.1 cm short.</p>", "<p>Lands 7.4~cm left and 2.1~cm short.</p>"),
        ("<p>94 % chance</p>", "<p>94~% chance</p>"),
        ("<p>nach 1,7\n   % und 26 s</p>", "<p>nach 1,7~% und 26~s</p>"),
        ("<p><b>10</b> cm, 3 cmx, 5 minutes</p>", "<p><b>10</b>~cm, 3 cmx, 5 minutes</p>"),
        ('<input value="3 cm" aria-label="3 cm"><p>3 cm</p>', '<input value="3 cm" aria-label="3 cm"><p>3~cm</p>'),
        ("<select><option>1 cm</option></select>", "<select><option>1 cm</option></select>"),
        ("<textarea>2 cm</textarea><script>{}3 cm</script>", "<textarea>2 cm</textarea><script>{}3 cm</script>"),
        ("12 cm", "12~cm"),
        ("3 cm <svg><text>4 cm</text></svg> 5 cm", "3~cm <svg><text>4 cm</text></svg> 5~cm"),
    ],
)
def test_a_number_and_its_unit_are_one_word_where_text_flows(page, kept):
    assert keep_together(page) == kept.replace("~", "\N{NO-BREAK SPACE}")


def test_pages_go_through_it_and_what_is_typed_comes_back_as_it_was(cast):
    answer = cast.as_coach.post(reverse("mission_new"), {"title": "", "width": "190 cm", "depth": "140 cm"})
    assert 'value="190 cm"' in answer.content.decode()
    club_bar = cast.as_coach.get(reverse("club_bar")).content.decode()
    assert "\N{NO-BREAK SPACE}%" in club_bar
