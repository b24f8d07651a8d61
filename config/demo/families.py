"""One approved summary and one family link of the demonstration club."""

from __future__ import annotations

import datetime as dt

from classroom.families.share_summary import make_link, write_words
from classroom.models import Member
from config.demo.people import Cast


def open_family_link(cast: Cast, now: dt.datetime) -> str:
    """Approve the words of the stories and make a link for the first child; the path of its address."""
    token = ""
    for team in cast.story.teams:
        for words in team.words:
            member = Member.objects.get(club=cast.club, nickname=words.member)
            write_words(
                member,
                cast.coach,
                learnt=words.learnt,
                working_on=words.working_on,
                ask_at_home=words.ask_at_home,
                approve=True,
                now=now,
            )
            token = token or make_link(member, cast.coach, now=now)[1]
    return f"/family/{token}/"
