from collections import defaultdict

from django.db import migrations, models


def give_letters(apps, schema_editor):
    """Links that are there already: A, B, C ... of each child in the order in which they were made, 26 at most."""
    given = defaultdict(int)
    links = apps.get_model("classroom", "SummaryLink")
    for link in links.objects.order_by("created_at", "pk"):
        links.objects.filter(pk=link.pk).update(letter=chr(ord("A") + min(given[link.member_id], 25)))
        given[link.member_id] += 1


class Migration(migrations.Migration):
    dependencies = [
        ("classroom", "0006_session_phases"),
    ]

    operations = [
        migrations.AddField(
            model_name="summarylink",
            name="letter",
            field=models.CharField(default="A", max_length=3),
        ),
        migrations.RunPython(give_letters, migrations.RunPython.noop),
    ]
