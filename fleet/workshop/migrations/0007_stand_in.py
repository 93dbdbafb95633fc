import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("register", "0001_begin"),
        ("workshop", "0006_care"),
    ]

    operations = [
        migrations.AddField(
            model_name="repairjob",
            name="stand_in",
            field=models.ForeignKey(
                blank=True,
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.SET_NULL,
                related_name="+",
                to="register.horn",
            ),
        ),
    ]
