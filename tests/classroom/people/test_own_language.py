"""A coach's own language: one of ours, or none for the club's; nothing else of the account is written."""

from __future__ import annotations

import pytest

from classroom.models import User
from classroom.people.services.own_language import choose_own_language


@pytest.mark.parametrize(("chosen", "kept"), [("es", "es"), ("", ""), ("tlh", "")])
def test_a_known_language_is_kept_and_any_other_means_the_clubs(cast, chosen, kept):
    User.objects.filter(pk=cast.coach.user_id).update(language="de")
    user = User.objects.get(pk=cast.coach.user_id)
    user.email = "never-saved@example.org"
    choose_own_language(user, chosen)
    now = User.objects.get(pk=cast.coach.user_id)
    assert (now.language, now.email) == (kept, cast.coach.user.email)
