"""Accessories that are missing, and when a horn came back last, are found along an index each, however many loans there
were."""

from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0033_letters_of_a_school"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddIndex(
            model_name="loan",
            index=models.Index(
                fields=["horn", "-returned_on", "-id"],
                condition=models.Q(returned_on__isnull=False),
                name="loan_back_last",
            ),
        ),
        migrations.AddIndex(
            model_name="loanaccessory",
            index=models.Index(
                condition=models.Q(("came_back", False), ("settled_on", None)),
                fields=["loan"],
                name="accessory_missing",
            ),
        ),
    ]
