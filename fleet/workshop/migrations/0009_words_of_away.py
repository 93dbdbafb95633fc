from django.db import migrations, models

STATES = [
    ("waiting", "waiting"),
    ("bench", "on the bench"),
    ("parts", "waiting for parts"),
    ("away", "at the repairer’s"),
    ("done", "done"),
    ("given-up", "given up"),
]


class Migration(migrations.Migration):
    dependencies = [("workshop", "0008_words_of_the_worst_grade")]

    operations = [
        migrations.AlterField(
            model_name="jobstep", name="state", field=models.CharField(choices=STATES, max_length=10)
        ),
        migrations.AlterField(
            model_name="repairjob",
            name="state",
            field=models.CharField(choices=STATES, default="waiting", max_length=10),
        ),
    ]
