from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("missions", "0003_tier_order_once_per_version")]

    operations = [
        migrations.AddField(
            "missionversion",
            "checked_with",
            models.CharField(blank=True, default="", help_text="The robot that it was checked with.", max_length=40),
            preserve_default=False,
        ),
    ]
