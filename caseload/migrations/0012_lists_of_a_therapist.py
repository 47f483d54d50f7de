"""What a therapist's lists ask is found by therapist: their counts, their order, their open episodes."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("caseload", "0011_second_factors"),
    ]

    operations = [
        migrations.RemoveIndex(
            model_name="standing",
            name="standing_in_groups",
        ),
        migrations.AlterField(
            model_name="standing",
            name="therapist",
            field=models.ForeignKey(
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddIndex(
            model_name="episode",
            index=models.Index(
                condition=models.Q(("ended_on__isnull", True)),
                fields=["therapist", "next_on", "id", "surgery_on"],
                name="episode_open_of",
            ),
        ),
        migrations.AddIndex(
            model_name="standing",
            index=models.Index(
                fields=["therapist", "rank", "due_on", "id", "until_on", "from_on"], name="standing_of_therapist"
            ),
        ),
        migrations.AddIndex(
            model_name="standing",
            index=models.Index(
                fields=["therapist", "site", "headline", "owner", "from_on", "until_on"], name="standing_in_groups"
            ),
        ),
    ]
