"""The address at which a page asks how far the kernels are."""

from django.urls import path

from planning.preparing import views

urlpatterns = [
    path("preparing/", views.preparing, name="preparing"),
]
