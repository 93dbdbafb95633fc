from django.db import migrations, models

KINDS = [("oil", "oiling"), ("clean", "cleaning"), ("service", "service"), ("exercise", "exercise")]


class Migration(migrations.Migration):
    dependencies = [("workshop", "0019_labour")]

    operations = [
        migrations.RemoveConstraint(model_name="care", name="care_kind_known"),
        migrations.AlterField("care", "kind", models.CharField(choices=KINDS, max_length=8)),
        migrations.AddConstraint(
            "care",
            models.CheckConstraint(
                condition=models.Q(("kind__in", ["oil", "clean", "service", "exercise"])), name="care_kind_known"
            ),
        ),
    ]
