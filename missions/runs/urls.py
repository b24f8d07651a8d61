"""The tablet's address that belongs to missions: where its runs come in."""

from django.urls import path

from missions.runs import views as tablet_runs

urlpatterns = [
    path("team/runs/", tablet_runs.team_runs, name="team_runs"),
]
