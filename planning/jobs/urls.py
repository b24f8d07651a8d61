"""The coach's addresses of jobs."""

from __future__ import annotations

from django.urls import path

from planning.jobs import views

urlpatterns = [
    path("jobs/<int:pk>/", views.job, name="job"),
    path("session/<int:pk>/rota/better/", views.rota_better, name="rota_better"),
    path("families/drafts/", views.family_drafts, name="family_drafts"),
    path("jobs/<int:pk>/stop/", views.job_cancel, name="job_cancel"),
]
