"""Sheets of an uploaded workbook that hold something and were not read, so that whoever uploaded it is told."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("caseload", "0012_lists_of_a_therapist"),
    ]

    operations = [
        migrations.AddField(
            model_name="intakebatch",
            name="other_sheets",
            field=models.JSONField(default=list),
        ),
    ]
