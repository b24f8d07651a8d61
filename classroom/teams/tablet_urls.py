"""The tablet's sign-in: a team comes in and goes."""

from __future__ import annotations

from django.urls import path, re_path

from classroom.teams.views import tablet_sign_in

urlpatterns = [
    path("team/", tablet_sign_in.team_sign_in, name="team_sign_in"),
    path("team/leave/", tablet_sign_in.team_sign_out, name="team_sign_out"),
    path("open-tablet/", tablet_sign_in.team_open, name="team_open"),
    re_path(r"^team/(?P<code>[A-Za-z0-9]{8})/$", tablet_sign_in.team_sign_in, name="team_sign_in_code"),
]
