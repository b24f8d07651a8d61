"""The coach's addresses of teams, their children and their sign-in cards."""

from __future__ import annotations

from django.urls import path

from classroom.teams.views import roster, sign_in_cards, teams

urlpatterns = [
    path("teams/", teams.teams, name="teams"),
    path("teams/new/", teams.team_new, name="team_new"),
    path("teams/cards/", sign_in_cards.cards, name="sign_in_cards"),
    path("teams/tablets/end/", teams.tablets_end, name="tablets_end"),
    path("teams/roster/", roster.roster, name="roster"),
    path("teams/<int:pk>/", teams.team, name="team"),
    path("teams/<int:pk>/edit/", teams.team_edit, name="team_edit"),
    path("teams/<int:pk>/up/", teams.team_up, name="team_up"),
    path("teams/<int:pk>/archive/", teams.team_archive, name="team_archive"),
    path("teams/<int:pk>/reopen/", teams.team_reopen, name="team_reopen"),
    path("teams/<int:pk>/code/", teams.team_code, name="team_code"),
    path("teams/<int:pk>/card/", sign_in_cards.card, name="sign_in_card"),
    path("teams/<int:pk>/tablets/end/", teams.team_tablets_end, name="team_tablets_end"),
    path("teams/<int:pk>/members/", teams.member_add, name="member_add"),
    path("members/<int:pk>/", teams.member, name="member"),
]
