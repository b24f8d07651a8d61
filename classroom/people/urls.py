"""The addresses of a club's coaches and their invitations."""

from __future__ import annotations

from django.urls import path, re_path

from classroom.people import views

urlpatterns = [
    path("coaches/", views.coaches, name="coaches"),
    path("coaches/<int:pk>/role/", views.coach_role, name="coach_role"),
    path("coaches/<int:pk>/end/", views.coach_end, name="coach_end"),
    path("coaches/invitations/<int:pk>/withdraw/", views.invitation_withdraw, name="invitation_withdraw"),
    re_path(r"^join/(?P<token>[A-Za-z0-9_-]{20,100})/$", views.join, name="join"),
]
