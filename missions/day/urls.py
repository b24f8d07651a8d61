"""The addresses of Today, its rota, its wall and the tables."""

from __future__ import annotations

from django.urls import path

from missions.day.views import rota, tables, today

urlpatterns = [
    path("today/", today.today, name="today"),
    path("session/<int:pk>/", today.session, name="session"),
    path("session/<int:pk>/wall/", today.session_wall, name="session_wall"),
    path("session/<int:pk>/attendance/", today.attendance, name="attendance"),
    path("session/<int:pk>/team/<int:team>/", today.team_day, name="team_day"),
    path("session/<int:pk>/lend/", today.robot_lend, name="robot_lend"),
    path("session/<int:pk>/run/", today.session_run, name="session_run"),
    path("session/<int:pk>/note/", today.session_note, name="session_note"),
    path("session/<int:pk>/service/<int:note>/", today.service_done, name="service_done"),
    path("session/<int:pk>/rota/", rota.rota, name="rota"),
    path("session/<int:pk>/rota/solve/", rota.rota_solve, name="rota_solve"),
    path("session/<int:pk>/rota/move/", rota.rota_move, name="rota_move"),
    path("session/<int:pk>/rota/pace/", rota.rota_pace, name="rota_pace"),
    path("session/<int:pk>/rota/tables/", rota.rota_tables, name="rota_tables"),
    path("settings/tables/", tables.tables, name="tables"),
    path("settings/tables/<int:pk>/", tables.table, name="table"),
    path("settings/tables/<int:pk>/do/", tables.table_do, name="table_do"),
    path("safety/", today.safety_begin, name="safety_begin"),
    path("safety/<int:pk>/", today.safety_card, name="safety_card"),
]
