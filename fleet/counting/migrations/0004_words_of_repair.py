from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("counting", "0003_words_of_where"),
    ]

    operations = [
        migrations.AlterField(
            model_name="line",
            name="where_at_end",
            field=models.CharField(
                blank=True,
                choices=[
                    ("cupboard", "in its place"),
                    ("out", "out on loan"),
                    ("repair", "here for repair"),
                    ("workshop", "in the workshop"),
                    ("away", "at the repairer’s"),
                    ("not-found", "not found"),
                    ("withdrawn", "withdrawn"),
                ],
                max_length=10,
            ),
        ),
        migrations.AlterField(
            model_name="line",
            name="where_at_start",
            field=models.CharField(
                choices=[
                    ("cupboard", "in its place"),
                    ("out", "out on loan"),
                    ("repair", "here for repair"),
                    ("workshop", "in the workshop"),
                    ("away", "at the repairer’s"),
                    ("not-found", "not found"),
                    ("withdrawn", "withdrawn"),
                ],
                max_length=10,
            ),
        ),
    ]
