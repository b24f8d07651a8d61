"""For support only: every record can be looked at; what is append-only stays so."""

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin

from classroom import models
from config.support.rows.append_only import AppendOnlyAdmin

admin.site.register(models.User, UserAdmin)


@admin.register(models.Club)
class ClubAdmin(admin.ModelAdmin):
    list_display = ["name", "time_zone", "unit", "is_demo"]


@admin.register(models.Coach)
class CoachAdmin(admin.ModelAdmin):
    list_display = ["user", "club", "role", "joined_at", "left_at"]
    list_filter = ["club", "role"]


@admin.register(models.Team)
class TeamAdmin(admin.ModelAdmin):
    list_display = ["name", "club", "archived_at"]
    list_filter = ["club"]
    exclude = ["pin_hash"]


@admin.register(models.Robot)
class RobotAdmin(admin.ModelAdmin):
    list_display = ["name", "club", "state", "changed_at"]
    list_filter = ["club", "state"]


admin.site.register((models.Calibration, models.AuditEntry), AppendOnlyAdmin)


for model in (
    models.Term,
    models.Session,
    models.Table,
    models.Attendance,
    models.SafetyCard,
    models.Member,
    models.Membership,
    models.RobotAssignment,
    models.ServiceNote,
    models.Spare,
    models.TabletSession,
    models.SummaryWords,
):
    admin.site.register(model)


@admin.register(models.GuardianContact)
class GuardianContactAdmin(admin.ModelAdmin):
    list_display = ["member", "language", "consented_at", "withdrawn_at"]


@admin.register(models.FamilyLetter)
class FamilyLetterAdmin(admin.ModelAdmin):
    list_display = ["member", "state", "asked_at", "tries", "sent_at"]
    exclude = ["stop_digest"]


@admin.register(models.Invitation)
class InvitationAdmin(admin.ModelAdmin):
    exclude = ["token_digest"]


@admin.register(models.SummaryLink)
class SummaryLinkAdmin(admin.ModelAdmin):
    list_display = ["member", "created_at", "expires_at", "revoked_at", "last_opened_at"]
    exclude = ["token_digest"]
