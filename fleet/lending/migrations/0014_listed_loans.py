import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0013_signer_works_here"),
        ("people", "0010_words_with_apostrophes"),
        ("register", "0011_acquired_within"),
        ("workshop", "0009_words_of_away"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name="loan",
            name="signed_before_issue",
        ),
        migrations.AddField(
            model_name="loan",
            name="from_list",
            field=models.BooleanField(db_default=False, default=False),
        ),
        migrations.AlterField(
            model_name="loan",
            name="check_at_issue",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="workshop.conditioncheck"
            ),
        ),
        migrations.AlterField(
            model_name="loan",
            name="signed_on",
            field=models.DateField(null=True, verbose_name="signed by the guardian on"),
        ),
        migrations.AddConstraint(
            model_name="loan",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("from_list", True),
                    models.Q(("signed_on__isnull", False), ("signed_on__lte", models.F("issued_on"))),
                    _connector="OR",
                ),
                name="signed_before_issue",
                violation_error_message="The guardian signs before the horn is issued.",
            ),
        ),
        migrations.AddConstraint(
            model_name="loan",
            constraint=models.CheckConstraint(
                condition=models.Q(("from_list", True), ("check_at_issue__isnull", False), _connector="OR"),
                name="checked_before_issue",
            ),
        ),
    ]
