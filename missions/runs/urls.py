"""The tablet's address that belongs to missions: where its runs come in."""

from django.urls import path

from missions.runs import views

urlpatterns = [
    path("team/runs/", views.team_runs, name="team_runs"),
]
