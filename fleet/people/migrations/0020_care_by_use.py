from django.core.validators import MaxValueValidator
from django.db import migrations, models


def setting(words: str, usual: int, most: int, hint: str) -> models.Field:
    return models.PositiveSmallIntegerField(
        words, default=usual, db_default=usual, validators=[MaxValueValidator(most)], help_text=hint
    )


class Migration(migrations.Migration):
    dependencies = [("people", "0019_note_names")]

    operations = [
        migrations.AddField(
            "school",
            "clean_months",
            setting(
                "cleaned sooner after so many months in children’s hands",
                3,
                60,
                "Since it was last cleaned, by its loans. 0 to go by the days alone.",
            ),
        ),
        migrations.AddField(
            "school",
            "service_months",
            setting(
                "serviced sooner after so many months in children’s hands",
                10,
                120,
                "Since its last service, by its loans. 0 to go by the days alone.",
            ),
        ),
        migrations.AddField(
            "school",
            "exercise_days",
            setting(
                "days after which a horn that nobody plays is exercised",
                30,
                1500,
                "Counted from its last loan or exercise. 0 for never.",
            ),
        ),
    ]
