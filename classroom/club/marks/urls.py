"""The coach's addresses of marks to print."""

from __future__ import annotations

from django.urls import path

from classroom.club.marks import views

urlpatterns = [
    path("picture/", views.marks, name="marks"),
    path("picture/sheets/", views.mark_sheets, name="mark_sheets"),
    path("picture/robots/<int:pk>/", views.top_mark, name="top_mark"),
]
