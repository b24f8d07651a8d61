"""The addresses of the mission editor and of missions as files."""

from __future__ import annotations

from django.urls import path

from missions.editor.views import editor, files

urlpatterns = [
    path("missions/new/", editor.mission_new, name="mission_new"),
    path("missions/import/", files.mission_import, name="mission_import"),
    path("missions/<int:pk>/edit/", editor.mission_edit, name="mission_edit"),
    path("missions/<int:pk>/check/", editor.mission_check, name="mission_check"),
    path("missions/<int:pk>/copy/", files.mission_copy, name="mission_copy"),
    path("missions/<int:pk>/archive/", files.mission_archive, name="mission_archive"),
    path("missions/<int:pk>/delete/", files.mission_delete, name="mission_delete"),
    path("missions/<int:pk>/restore/", files.mission_restore, name="mission_restore"),
    path("missions/<int:pk>/versions/", files.mission_versions, name="mission_versions"),
    path("missions/<int:pk>/export/", files.mission_export, name="mission_export"),
]
