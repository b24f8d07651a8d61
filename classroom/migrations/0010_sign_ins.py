import datetime as dt

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.utils import timezone


def list_open_sessions(apps, schema_editor):
    """Whoever is signed in already is listed too, so that the list leaves no open door out."""
    from django.contrib.auth import SESSION_KEY
    from django.contrib.sessions.backends.db import SessionStore

    at = schema_editor.connection.alias
    users = set(apps.get_model("classroom", "User").objects.using(at).values_list("pk", flat=True))
    rows = apps.get_model("classroom", "SignIn").objects.using(at)
    age = dt.timedelta(seconds=settings.SESSION_COOKIE_AGE)
    sessions = apps.get_model("sessions", "Session").objects.using(at).filter(expire_date__gt=timezone.now())
    for session in sessions.iterator():
        user = str(SessionStore().decode(session.session_data).get(SESSION_KEY, ""))
        if user.isdecimal() and int(user) in users:
            began = session.expire_date - age
            rows.create(user_id=int(user), session_key=session.session_key, at=began, last_seen_at=began)


class Migration(migrations.Migration):
    dependencies = [("classroom", "0009_l_shaped_tables"), ("sessions", "0001_initial")]

    operations = [
        migrations.CreateModel(
            name="SignIn",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("session_key", models.CharField(max_length=40, unique=True)),
                (
                    "browser",
                    models.CharField(
                        blank=True, help_text="In words; what the browser itself sent is not kept.", max_length=60
                    ),
                ),
                ("source", models.CharField(blank=True, max_length=64)),
                ("at", models.DateTimeField()),
                ("last_seen_at", models.DateTimeField()),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="sign_ins",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={"ordering": ["-last_seen_at", "-pk"]},
        ),
        migrations.RunPython(list_open_sessions, migrations.RunPython.noop),
    ]
