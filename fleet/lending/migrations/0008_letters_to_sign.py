import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0007_past_loans"),
        ("people", "0004_opening"),
    ]

    operations = [
        migrations.AddField(
            model_name="lendingrules",
            name="sign_subject",
            field=models.CharField(default="Please sign for {pupil}’s horn", max_length=120, verbose_name="subject"),
        ),
        migrations.AddField(
            model_name="lendingrules",
            name="sign_words",
            field=models.TextField(
                default="Dear {guardian},\n\n{school} would like to lend the horn {horn} to {pupil} until {due}. Before it goes out, please read the agreement and sign it on your page: {page}\n\nYou sign in with this e-mail address and a code that is sent to it. If you would rather sign on paper, tell the school.\n\nQuestions: {contact}\n\n{school}\n",
                max_length=3000,
                verbose_name="when an agreement waits to be signed",
            ),
        ),
        migrations.AddField(
            model_name="letter",
            name="signature",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="letters",
                to="loans.onlinesignature",
            ),
        ),
        migrations.AlterField(
            model_name="letter",
            name="loan",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="letters",
                to="loans.loan",
            ),
        ),
        migrations.AlterField(
            model_name="letter",
            name="state",
            field=models.CharField(
                choices=[
                    ("waiting", "waits for the mail server"),
                    ("going", "is being sent"),
                    ("sent", "sent"),
                    ("refused", "refused by the mail server"),
                    ("bounced", "came back"),
                    ("no-address", "no e-mail address"),
                    ("unsure", "may not have arrived"),
                    ("dropped", "not needed any more"),
                ],
                default="waiting",
                max_length=10,
            ),
        ),
        migrations.AddConstraint(
            model_name="letter",
            constraint=models.UniqueConstraint(fields=("signature",), name="one_letter_a_signature"),
        ),
        migrations.AddConstraint(
            model_name="letter",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("loan__isnull", False), ("signature", None)),
                    models.Q(("loan", None), ("signature__isnull", False)),
                    _connector="OR",
                ),
                name="letter_about_one_thing",
            ),
        ),
    ]
