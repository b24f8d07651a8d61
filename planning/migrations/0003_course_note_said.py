from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('planning', '0002_course_answered'),
    ]

    operations = [
        migrations.AddField(
            model_name='course',
            name='note_said',
            field=models.JSONField(blank=True, null=True),
        ),
    ]
