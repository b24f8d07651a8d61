from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("missions", "0002_tiers_of_a_version")]

    operations = [
        migrations.AddConstraint(
            "tierversion",
            models.UniqueConstraint(fields=["version", "order"], name="tier_order_once_per_version"),
        ),
    ]
