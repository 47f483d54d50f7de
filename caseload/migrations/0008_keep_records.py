from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('caseload', '0007_access_and_proof'),
    ]

    operations = [
        migrations.AddField(
            model_name='patient',
            name='keep_why',
            field=models.CharField(blank=True, max_length=200),
        ),
        migrations.AddField(
            model_name='patient',
            name='keep_until_on',
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddConstraint(
            model_name='patient',
            constraint=models.CheckConstraint(condition=models.Q(('keep_until_on__isnull', True), models.Q(('keep_why', ''), _negated=True), _connector='OR'), name='patient_kept_with_a_reason'),
        ),
    ]
