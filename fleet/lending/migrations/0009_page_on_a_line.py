from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0008_letters_to_sign"),
    ]

    operations = [
        migrations.AlterField(
            model_name="lendingrules",
            name="after_words",
            field=models.TextField(
                default="Dear {guardian},\n\nthe horn {horn} that {pupil} has on loan from {school} was due back on {due} and has not come back yet. Please let it come back in the next few days, in its case, with everything that went with it.\n\nIf you need it longer, or it is damaged or lost, tell the school.\n\nYour page: {page}\n\nQuestions: {contact}\n\n{school}\n",
                max_length=3000,
                verbose_name="when it is overdue",
            ),
        ),
        migrations.AlterField(
            model_name="lendingrules",
            name="before_words",
            field=models.TextField(
                default="Dear {guardian},\n\nthe horn {horn} that {pupil} has on loan from {school} is due back on {due}. Please let it come back in its case, with everything that went with it.\n\nIf you would like to keep it longer, or something is wrong with it, tell the school.\n\nYour page: {page}\n\nQuestions: {contact}\n\n{school}\n",
                max_length=3000,
                verbose_name="before it is due",
            ),
        ),
    ]
