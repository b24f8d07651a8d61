"""For support only."""

from django.contrib import admin

from config.support.rows.append_only import AppendOnlyAdmin
from missions import models


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
