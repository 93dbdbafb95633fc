"""An index of the horns whose price is on record."""

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [("register", "0026_care_kept")]

    operations = [
        migrations.AddIndex(
            "horn",
            models.Index(condition=Q(price__isnull=False), fields=["school", "id"], name="horn_priced"),
        ),
    ]
