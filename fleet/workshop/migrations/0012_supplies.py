from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0011_agreed"),
    ]

    operations = [
        migrations.AddField(
            model_name="part",
            name="arrived_on",
            field=models.DateField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name="part",
            name="order_number",
            field=models.CharField(blank=True, default="", db_default="", max_length=60, verbose_name="their number"),
        ),
        migrations.AddField(
            model_name="part",
            name="ordered_on",
            field=models.DateField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name="part",
            name="shelf",
            field=models.CharField(blank=True, default="", db_default="", max_length=60, verbose_name="where it lies"),
        ),
        migrations.AddField(
            model_name="part",
            name="supplier",
            field=models.CharField(blank=True, default="", db_default="", max_length=120),
        ),
    ]
