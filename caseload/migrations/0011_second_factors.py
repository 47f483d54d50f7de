"""Second factors are kept in a backup from here on, so their table is there whenever ours are."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("caseload", "0010_staff_version"),
        ("mfa", "0003_authenticator_type_uniq"),
    ]

    operations = []
