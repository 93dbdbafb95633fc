from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0012_supplies"),
    ]

    operations = [
        migrations.AlterField(
            model_name="jobstep",
            name="words",
            field=models.CharField(max_length=500),
        ),
    ]
