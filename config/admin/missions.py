"""For support only."""

from django.contrib import admin

from missions import models


class AppendOnlyAdmin(admin.ModelAdmin):
    def has_change_permission(self, request, obj=None):
        return False

    def has_delete_permission(self, request, obj=None):
        return False


@admin.register(models.Mission)
class MissionAdmin(admin.ModelAdmin):
    list_display = ["title", "club", "archived_at"]
    list_filter = ["club"]


@admin.register(models.Attempt)
class AttemptAdmin(AppendOnlyAdmin):
    list_display = ["team", "tier", "made_at", "success", "withdrawn_at"]
    list_filter = ["team__club", "success"]


admin.site.register(models.ProgressChange, AppendOnlyAdmin)
for model in (models.MissionVersion, models.Tier, models.TierVersion, models.Progress):
    admin.site.register(model)
