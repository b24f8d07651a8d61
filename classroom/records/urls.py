"""The addresses of the club's paperwork."""

from __future__ import annotations

from django.urls import path

from classroom.records import views

urlpatterns = [
    path("privacy/", views.privacy, name="privacy"),
    path("privacy/children/", views.privacy_children, name="privacy_children"),
    path("privacy/impact/", views.privacy_impact, name="privacy_impact"),
]
