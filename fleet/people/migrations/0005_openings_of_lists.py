from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("people", "0004_opening"),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name="opening",
            name="opening_of_one_person",
        ),
        migrations.AddConstraint(
            model_name="opening",
            constraint=models.CheckConstraint(
                condition=models.Q(("pupil", None), ("guardian", None), _connector="OR"),
                name="opening_of_one_person_or_all",
            ),
        ),
    ]
