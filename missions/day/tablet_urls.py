"""A team's own address of the day."""

from __future__ import annotations

from django.urls import path

from missions.day.views import team_jobs

urlpatterns = [path("team/jobs/", team_jobs.team_jobs, name="team_jobs")]
