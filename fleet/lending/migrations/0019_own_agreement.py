"""A version of the agreement may have the school's own as a PDF."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0018_sheets_known"),
    ]

    operations = [
        migrations.AddField(
            model_name="agreement",
            name="own",
            field=models.FileField(blank=True, db_default="", default="", max_length=200, upload_to="agreements/%Y/"),
        ),
        migrations.AddField(
            model_name="agreement",
            name="own_pages",
            field=models.PositiveSmallIntegerField(db_default=0, default=0),
        ),
    ]
