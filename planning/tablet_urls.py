"""The tablet's addresses that belong to planning: the team's course."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
