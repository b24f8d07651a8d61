"""A robot lent for a session is the club's own fact (classroom.RobotLoan), since what a team types rests on it."""

from __future__ import annotations

from typing import Any

from django.db import migrations


def move(apps: Any, schema_editor: Any) -> None:
    loan = apps.get_model("classroom", "RobotLoan")
    days = apps.get_model("missions", "TeamDay").objects.exclude(robot=None)
    loan.objects.bulk_create(loan(session_id=d.session_id, team_id=d.team_id, robot_id=d.robot_id) for d in days)


def move_back(apps: Any, schema_editor: Any) -> None:
    day = apps.get_model("missions", "TeamDay")
    for loan in apps.get_model("classroom", "RobotLoan").objects.all():
        day.objects.update_or_create(
            session_id=loan.session_id, team_id=loan.team_id, defaults={"robot_id": loan.robot_id}
        )


class Migration(migrations.Migration):
    dependencies = [("missions", "0004_checked_with"), ("classroom", "0003_robot_loans")]

    operations = [
        migrations.RunPython(move, move_back),
        migrations.RemoveField(model_name="teamday", name="robot"),
    ]
