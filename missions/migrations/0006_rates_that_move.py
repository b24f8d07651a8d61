"""The readiness rule follows rates that move; marks of what was changed.

Rules that a club or a tier has written down keep their meaning: where only one of two numbers that belong together was
set, the other one is written down as it was by default until now. Every team's evidence is gathered anew from its runs.
"""

from __future__ import annotations

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

import django.db.models.deletion
from django.db import migrations, models

from missions.readiness.rules.answer import answer
from missions.readiness.rules.evidence import CountedRun, Rule, gather

#: What a rule had by default, of numbers that have to fit together.
CLEAN_BEFORE = {"clean_runs": 8, "clean_of": 10}


def kept_meaning(rule: dict[str, Any], inherited: dict[str, Any]) -> dict[str, Any]:
    """A rule's own part: the same numbers as it had, without what is no longer asked."""
    own = {name: value for name, value in rule.items() if name != "forget"}
    if own.keys() & {"clean_runs", "clean_of", "window"}:
        for name, before in CLEAN_BEFORE.items():
            own.setdefault(name, inherited.get(name, before))
    return own


def take_over(apps: Any, schema_editor: Any) -> None:
    policies: dict[int, dict[str, Any]] = {}
    for club in apps.get_model("classroom", "Club").objects.iterator():
        club.readiness_policy = policies[club.pk] = kept_meaning(club.readiness_policy, {})
        club.save(update_fields=["readiness_policy"])
    for edition in apps.get_model("missions", "TierVersion").objects.exclude(rule={}).select_related("tier__mission"):
        edition.rule = kept_meaning(edition.rule, policies[edition.tier.mission.club_id])
        edition.save(update_fields=["rule"])
    for change in apps.get_model("missions", "BarChange").objects.iterator():
        inherited = policies[change.club_id] if change.tier_version_id else {}
        change.before, change.after = kept_meaning(change.before, inherited), kept_meaning(change.after, inherited)
        change.save(update_fields=["before", "after"])
    for progress in apps.get_model("missions", "Progress").objects.exclude(evidence={}).select_related("team__club"):
        _gather_anew(apps, progress)


def _gather_anew(apps: Any, progress: Any) -> None:
    """From the standing runs, as missions.readiness.services.evidence does; what stands beside the evidence stays."""
    zone = ZoneInfo(progress.team.club.time_zone)
    editions = apps.get_model("missions", "TierVersion").objects.filter(tier=progress.tier_id)
    edition = editions.exclude(version__published_at=None).order_by("-version__number").first()
    own = [edition.rule, {"time_limit_s": edition.time_limit_s}] if edition else []
    rule = Rule.of(progress.team.club.readiness_policy, *own)
    runs = apps.get_model("missions", "Attempt").objects.filter(replaced_by=None, withdrawn_at=None)
    rows = list(runs.filter(team=progress.team_id, tier=progress.tier_id).select_related("robot").order_by("made_at", "pk"))
    counted, changes, before = [], [], None
    for row in rows:
        run = _counted(row, zone)
        numbers = (row.robot_id, row.calibration_id)
        if counted and numbers != before:
            changes.append(run.at)
        counted.append(run)
        before = numbers
    if rows and rows[-1].robot:
        changes.append(rows[-1].robot.changed_at)
    evidence = gather(counted, rule, changes)
    beside = {name: progress.evidence.get(name) for name in ("best_s", "robot", "calibration")}
    beside["landed"] = progress.evidence.get("landed", [])
    progress.evidence = evidence.as_dict() | beside | {"fold": [rule.stale_keep, rule.window]}
    found = answer(evidence, rule, progress.updated_at.astimezone(zone))
    progress.answer, progress.answer_kind, progress.why, progress.need = found.code, found.kind, found.why, found.need
    progress.save(update_fields=["evidence", "answer", "answer_kind", "why", "need"])


def _counted(row: Any, zone: dt.tzinfo) -> CountedRun:
    at = min(row.made_at, row.received_at).astimezone(zone)
    return CountedRun(row.success, at, row.duration_s if all(row.outcomes.values()) else None, row.cause)


def back(apps: Any, schema_editor: Any) -> None:
    """The evidence of before is gathered with each team's next run; its runs have stayed."""
    apps.get_model("missions", "Progress").objects.update(evidence={})


class Migration(migrations.Migration):

    dependencies = [
        ('classroom', '0005_calibration_confirms'),
        ('missions', '0005_loans_moved'),
    ]

    operations = [
        migrations.AddField(
            model_name='progress',
            name='marked_at',
            field=models.DateTimeField(blank=True, help_text='The newest mark “we changed something” that concerns this tier.', null=True),
        ),
        migrations.CreateModel(
            name='ChangeMark',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('part', models.CharField(choices=[('build', 'The build'), ('tyres', 'Tyres or wheels'), ('program', 'The program'), ('other', 'Something else')], max_length=10)),
                ('words', models.CharField(blank=True, max_length=60)),
                ('at', models.DateTimeField()),
                ('taken_back_at', models.DateTimeField(blank=True, null=True)),
                ('by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='classroom.coach')),
                ('mission', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='change_marks', to='missions.mission')),
                ('team', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='change_marks', to='classroom.team')),
            ],
            options={
                'ordering': ['-at', '-pk'],
                'indexes': [models.Index(fields=['team', '-at'], name='change_marks_of_a_team')],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('mission__isnull', False), ('part', 'program')), models.Q(('part__in', ['build', 'tyres', 'other']), ('mission', None)), _connector='OR'), name='change_of_a_program_is_of_a_mission')],
            },
        ),
        migrations.RunPython(take_over, back),
    ]
