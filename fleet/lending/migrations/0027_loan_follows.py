from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("loans", "0026_fill_care")]

    operations = [
        migrations.AddIndex(
            model_name="loan",
            index=models.Index(
                condition=models.Q(("in_place_of__isnull", False)), fields=["in_place_of"], name="loan_follows"
            ),
        ),
    ]
