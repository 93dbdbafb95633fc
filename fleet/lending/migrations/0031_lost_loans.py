from __future__ import annotations

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [("loans", "0030_loans_of_a_school")]

    operations = [
        migrations.AddIndex("loan", models.Index(fields=["school"], condition=~Q(lost_words=""), name="loan_lost"))
    ]
