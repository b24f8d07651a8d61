from django.urls import path

from missions.editor.views import editor
from missions.editor.views import files as editor_files

urlpatterns = [
    path("missions/new/", editor.mission_new, name="mission_new"),
    path("missions/import/", editor_files.mission_import, name="mission_import"),
    path("missions/<int:pk>/edit/", editor.mission_edit, name="mission_edit"),
    path("missions/<int:pk>/check/", editor.mission_check, name="mission_check"),
    path("missions/<int:pk>/copy/", editor_files.mission_copy, name="mission_copy"),
    path("missions/<int:pk>/archive/", editor_files.mission_archive, name="mission_archive"),
    path("missions/<int:pk>/restore/", editor_files.mission_restore, name="mission_restore"),
    path("missions/<int:pk>/export/", editor_files.mission_export, name="mission_export"),
]
