import uuid

from django.db import migrations, models


def give_each_its_own(apps, schema_editor):
    clubs = apps.get_model("classroom", "Club").objects.using(schema_editor.connection.alias)
    for club in clubs.all():
        clubs.filter(pk=club.pk).update(uuid=uuid.uuid4())


class Migration(migrations.Migration):
    dependencies = [("classroom", "0007_link_letters")]

    operations = [
        migrations.AddField("club", "uuid", models.UUIDField(null=True, editable=False)),
        migrations.RunPython(give_each_its_own, migrations.RunPython.noop),
        migrations.AlterField(
            "club",
            "uuid",
            models.UUIDField(
                default=uuid.uuid4, unique=True, editable=False, help_text="The same wherever the club is taken."
            ),
        ),
    ]
