from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("people", "0012_struck_out"),
    ]

    operations = [
        migrations.AddField(
            model_name="school",
            name="tuned_to",
            field=models.PositiveSmallIntegerField(
                choices=[(440, "A = 440 Hz"), (442, "A = 442 Hz")],
                db_default=440,
                default=440,
                help_text="What Identify and the field guide play, and what a note they hear is measured against.",
                verbose_name="the school tunes to",
            ),
        ),
    ]
