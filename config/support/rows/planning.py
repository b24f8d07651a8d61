"""For support only."""

from django.contrib import admin

from planning.models import Course, Job


@admin.register(Job)
class JobAdmin(admin.ModelAdmin):
    list_display = ["kind", "club", "state", "tries", "created_at", "finished_at", "error_code"]
    list_filter = ["state", "kind", "club"]


@admin.register(Course)
class CourseAdmin(admin.ModelAdmin):
    list_display = ["team", "number", "origin", "aim", "created_at"]
    list_filter = ["origin"]
