from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("register", "0013_class_of_the_holder"),
    ]

    operations = [
        migrations.AddField(
            model_name="disposal",
            name="buyer",
            field=models.CharField(blank=True, db_default="", default="", max_length=120, verbose_name="goes to"),
        ),
        migrations.AddField(
            model_name="disposal",
            name="price",
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=10, null=True),
        ),
        migrations.AddField(
            model_name="disposal",
            name="value",
            field=models.DecimalField(
                blank=True, decimal_places=2, max_digits=10, null=True, verbose_name="value at the time"
            ),
        ),
    ]
