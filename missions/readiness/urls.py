"""The coach's addresses of the board, the evidence, the decisions and the bar."""

from __future__ import annotations

from django.urls import path

from missions.readiness.views import bars, board, changes, decisions, evidence

urlpatterns = [
    path("", board.board, name="board"),
    path("readiness/<int:mission_id>/", board.board_mission, name="board_mission"),
    path("readiness/<int:mission_id>/wall/", board.projector, name="projector"),
    path("evidence/<int:team_id>/<int:tier_id>/", evidence.evidence, name="evidence"),
    path("evidence/<int:team_id>/<int:tier_id>/changed/", changes.mark, name="mark_change"),
    path("evidence/<int:team_id>/<int:tier_id>/changed/<int:mark_id>/back/", changes.take_back, name="take_back_mark"),
    path("evidence/<int:team_id>/<int:tier_id>/<slug:verb>/", decisions.decide, name="decide"),
    path("runs/<int:attempt_id>/withdraw/", evidence.withdraw_run, name="withdraw_run"),
    path("tiers/<int:tier_id>/bar/", bars.tier_bar, name="tier_bar"),
    path("settings/bar/", bars.club_bar, name="club_bar"),
]
