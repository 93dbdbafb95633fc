"""The few letters that ask for a signature are found along an index of their own."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("loans", "0035_letters_by_address")]

    operations = [
        migrations.AddIndex(
            model_name="letter",
            index=models.Index(
                condition=models.Q(("signature__isnull", False)), fields=["signature"], name="letter_to_sign"
            ),
        ),
    ]
