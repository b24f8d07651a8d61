"""The coach's addresses of readiness and missions. The editor's and the tablet's are beside it."""

from django.urls import path

from missions.views import board, decisions, evidence

urlpatterns = [
    path("", board.board, name="board"),
    path("readiness/<int:mission_id>/", board.board_mission, name="board_mission"),
    path("readiness/<int:mission_id>/wall/", board.projector, name="projector"),
    path("evidence/<int:team_id>/<int:tier_id>/", evidence.evidence, name="evidence"),
    path("evidence/<int:team_id>/<int:tier_id>/<slug:verb>/", decisions.decide, name="decide"),
    path("runs/<int:attempt_id>/withdraw/", evidence.withdraw_run, name="withdraw_run"),
]
