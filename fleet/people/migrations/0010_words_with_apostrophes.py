from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("people", "0009_address_changes")]

    operations = [
        migrations.AlterField(
            model_name="pupil",
            name="pupil_id",
            field=models.CharField(
                blank=True,
                help_text="The school’s own opaque number; never a national one.",
                max_length=40,
                verbose_name="school’s own pupil id",
            ),
        ),
        migrations.AlterField(
            model_name="school",
            name="slug",
            field=models.SlugField(
                help_text="The school’s part of the address, like hill-road.", max_length=40, unique=True
            ),
        ),
    ]
