"""The club's own addresses: robots, teams, people. Families' pages need progress and live in missions."""

from __future__ import annotations

from django.urls import path, re_path

from classroom.club import views as club
from classroom.people import views as people
from classroom.robots.views import calibrations, robots, spares
from classroom.teams.views import roster, sign_in_cards, teams

urlpatterns = [
    path("robots/", robots.robots, name="robots"),
    path("robots/new/", robots.robot_new, name="robot_new"),
    path("robots/outline/", robots.outline_preview, name="robot_outline"),
    path("robots/spares/", spares.spares, name="spares"),
    path("robots/spares/<int:pk>/", spares.spare, name="spare"),
    path("robots/spares/<int:pk>/came-in/", spares.spare_came_in, name="spare_came_in"),
    path("robots/spares/<int:pk>/retire/", spares.spare_retire, name="spare_retire"),
    path("robots/<int:pk>/", robots.robot, name="robot"),
    path("robots/<int:pk>/edit/", robots.robot_edit, name="robot_edit"),
    path("robots/<int:pk>/team/", robots.robot_assign, name="robot_assign"),
    path("robots/<int:pk>/state/", robots.robot_state, name="robot_state"),
    path("robots/<int:pk>/notes/", robots.robot_note, name="robot_note"),
    path("robots/notes/<int:pk>/done/", robots.service_note_done, name="service_note_done"),
    path("robots/<int:pk>/measure/<slug:kind>/", calibrations.calibrate, name="calibrate"),
    path("calibrations/<int:pk>/", calibrations.calibration, name="calibration"),
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
    path("coaches/", people.coaches, name="coaches"),
    path("coaches/<int:pk>/role/", people.coach_role, name="coach_role"),
    path("coaches/<int:pk>/end/", people.coach_end, name="coach_end"),
    path("coaches/invitations/<int:pk>/withdraw/", people.invitation_withdraw, name="invitation_withdraw"),
    re_path(r"^join/(?P<token>[A-Za-z0-9_-]{20,100})/$", people.join, name="join"),
    path("settings/", club.club_settings, name="club_settings"),
    path("settings/clubs/<int:pk>/", club.club_switch, name="club_switch"),
    path("settings/log/", club.audit_log, name="audit_log"),
]
