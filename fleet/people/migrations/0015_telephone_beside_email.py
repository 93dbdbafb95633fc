from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("people", "0014_school_year")]

    operations = [
        migrations.RemoveConstraint("guardian", "guardian_one_contact"),
        migrations.AlterField(
            "guardian",
            "telephone",
            models.CharField(blank=True, help_text="For calls; nobody signs in by it.", max_length=40),
        ),
    ]
