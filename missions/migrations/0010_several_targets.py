"""A tier may have further targets; a run's miss says at which of them it was measured."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('missions', '0009_robots_changed_by_marks'),
    ]

    operations = [
        migrations.AddField(
            model_name='attempt',
            name='at_target',
            field=models.PositiveSmallIntegerField(default=0, help_text="Of several targets, where its miss was measured: 0 the mission's own, then the tier's."),
        ),
        migrations.AddField(
            model_name='tierversion',
            name='any_order',
            field=models.BooleanField(default=False, help_text='Its targets may be pushed in any order.'),
        ),
        migrations.AddField(
            model_name='tierversion',
            name='more_targets',
            field=models.JSONField(blank=True, default=list, help_text="Pushed as well, after the mission's target."),
        ),
    ]
