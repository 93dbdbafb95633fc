from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0013_longer_steps"),
    ]

    operations = [
        migrations.AddField(
            model_name="finding",
            name="number",
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="finding",
            name="measured",
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=6, null=True),
        ),
        migrations.AddConstraint(
            model_name="finding",
            constraint=models.CheckConstraint(
                condition=Q(number=None) | Q(number__range=(1, 30)), name="finding_number_can_be"
            ),
        ),
        migrations.AddConstraint(
            model_name="finding",
            constraint=models.CheckConstraint(
                condition=Q(measured=None) | Q(measured__gte=0), name="finding_measure_not_negative"
            ),
        ),
    ]
