"""The tablet's addresses that belong to missions: the mission, the log of runs and their sync."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
