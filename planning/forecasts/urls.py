"""The address of a term's forecasts."""

from __future__ import annotations

from django.urls import path

from planning.forecasts import views

urlpatterns = [path("term/<int:pk>/forecasts/", views.forecasts, name="forecasts")]
