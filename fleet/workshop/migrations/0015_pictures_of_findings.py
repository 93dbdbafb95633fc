from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0014_figures_of_findings"),
    ]

    operations = [
        migrations.AddField(
            model_name="checkphotograph",
            name="fault",
            field=models.CharField(blank=True, db_default="", default="", max_length=40),
        ),
    ]
