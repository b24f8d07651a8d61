"""Every address of the site. Each has a row in the access matrix (tests/test_access.py)."""

from django.contrib import admin
from django.urls import include, path

handler400 = "classroom.views.errors.bad_request"
handler403 = "classroom.views.errors.not_allowed"
handler404 = "classroom.views.errors.not_found"
handler500 = "classroom.views.errors.broken"

urlpatterns = [
    path("", include("classroom.tablet_urls")),
    path("", include("missions.tablet_urls")),
    path("", include("planning.tablet_urls")),
    path("", include("classroom.urls")),
    path("", include("missions.urls")),
    path("", include("missions.editor_urls")),
    path("", include("missions.family_urls")),
    path("", include("missions.today_urls")),
    path("", include("planning.urls")),
    path("", include("planning.feasibility_urls")),
    path("account/", include("classroom.account_urls")),
    path("support/", admin.site.urls),
]
