import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("people", "0008_addresses"),
    ]

    operations = [
        migrations.CreateModel(
            name="AddressChange",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("before", models.EmailField(max_length=254)),
                ("at", models.DateTimeField()),
                ("digest", models.CharField(max_length=64, unique=True)),
                ("objected_at", models.DateTimeField(null=True)),
                (
                    "guardian",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="address_changes",
                        to="people.guardian",
                    ),
                ),
            ],
        ),
    ]
