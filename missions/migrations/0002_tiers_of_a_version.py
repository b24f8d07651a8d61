"""A version keeps its own title and its tiers' own names and order, so that a draft changes nothing that teams see."""

from __future__ import annotations

from typing import Any

from django.db import migrations, models


def take_over(apps: Any, schema_editor: Any) -> None:
    """What stood on the mission and its tiers is what every version so far has shown."""
    version_of, edition_of = apps.get_model("missions", "MissionVersion"), apps.get_model("missions", "TierVersion")
    for version in version_of.objects.select_related("mission").iterator():
        version.title = version.mission.title
        version.save(update_fields=["title"])
    for edition in edition_of.objects.select_related("tier").iterator():
        edition.name, edition.order = edition.tier.name, edition.tier.order
        edition.save(update_fields=["name", "order"])
    for mission in apps.get_model("missions", "Mission").objects.iterator():
        newest = mission.versions.exclude(published_at=None).order_by("-number").first()
        if newest is not None:
            shown = edition_of.objects.filter(version=newest).values("tier")
            seen = edition_of.objects.filter(version__mission=mission).exclude(version__published_at=None)
            gone = mission.tiers.filter(pk__in=seen.values("tier")).exclude(pk__in=shown)
            gone.update(left_out_at=newest.published_at)


def leave(apps: Any, schema_editor: Any) -> None:
    """Back: the mission and its tiers have kept what was published."""


class Migration(migrations.Migration):
    dependencies = [("missions", "0001_initial")]

    operations = [
        migrations.AlterModelOptions(name="tierversion", options={"ordering": ["version", "order"]}),
        migrations.AddField(
            "missionversion", "title", models.CharField(default="", max_length=60), preserve_default=False
        ),
        migrations.AddField("tier", "left_out_at", models.DateTimeField(blank=True, null=True)),
        migrations.AddField("tierversion", "name", models.CharField(default="", max_length=40), preserve_default=False),
        migrations.AddField(
            "tierversion", "order", models.PositiveSmallIntegerField(default=0), preserve_default=False
        ),
        migrations.RunPython(take_over, leave),
    ]
