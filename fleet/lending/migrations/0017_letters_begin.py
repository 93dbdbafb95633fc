"""A letter's first word after the greeting has a capital, and the page stands on a line of its own, which goes where there
is none. A school that keeps the words it began with gets them; words of its own stay."""

from django.db import migrations, models

BEFORE = {
    "after_words": "Dear {guardian},\n\nthe horn {horn} that {pupil} has on loan from {school} was due back on {due} and has not come back yet. Please let it come back in the next few days, in its case, with everything that went with it.\n\nIf you need it longer, or it is damaged or lost, tell the school.\n\nYour page: {page}\n\nQuestions: {contact}\n\n{school}\n",
    "before_words": "Dear {guardian},\n\nthe horn {horn} that {pupil} has on loan from {school} is due back on {due}. Please let it come back in its case, with everything that went with it.\n\nIf you would like to keep it longer, or something is wrong with it, tell the school.\n\nYour page: {page}\n\nQuestions: {contact}\n\n{school}\n",
    "recall_words": "Dear {guardian},\n\nthe school needs the horn {horn} that {pupil} has on loan sooner than agreed: please let it come back by {due}.\n\nWhy: {reason}\n\nQuestions: {contact}\n\n{school}\n",
    "sign_words": "Dear {guardian},\n\n{school} would like to lend the horn {horn} to {pupil} until {due}. Before it goes out, please read the agreement and sign it on your page: {page}\n\nYou sign in with this e-mail address and a code that is sent to it. If you would rather sign on paper, tell the school.\n\nQuestions: {contact}\n\n{school}\n",
}
NOW = {
    "after_words": "Dear {guardian},\n\nThe horn {horn} that {pupil} has on loan from {school} was due back on {due} and has not come back yet. Please let it come back in the next few days, in its case, with everything that went with it.\n\nIf you need it longer, or it is damaged or lost, tell the school.\n\nYour page: {page}\n\nQuestions: {contact}\n\n{school}\n",
    "before_words": "Dear {guardian},\n\nThe horn {horn} that {pupil} has on loan from {school} is due back on {due}. Please let it come back in its case, with everything that went with it.\n\nIf you would like to keep it longer, or something is wrong with it, tell the school.\n\nYour page: {page}\n\nQuestions: {contact}\n\n{school}\n",
    "recall_words": "Dear {guardian},\n\nThe school needs the horn {horn} that {pupil} has on loan sooner than agreed: please let it come back by {due}.\n\nWhy: {reason}\n\nQuestions: {contact}\n\n{school}\n",
    "sign_words": "Dear {guardian},\n\n{school} would like to lend the horn {horn} to {pupil} until {due}. Before it goes out, please read the agreement and sign it.\n\nYour page: {page} (you sign in with this e-mail address and a code that is sent to it)\n\nIf you would rather sign on paper, tell the school.\n\nQuestions: {contact}\n\n{school}\n",
}


def fill(apps, schema_editor):
    rules = apps.get_model("loans", "LendingRules").objects
    for field, words in BEFORE.items():
        rules.filter(**{field: words}).update(**{field: NOW[field]})


class Migration(migrations.Migration):
    dependencies = [
        ("loans", "0016_wishes"),
    ]

    operations = [
        migrations.AlterField(
            model_name="lendingrules",
            name="after_words",
            field=models.TextField(default=NOW["after_words"], max_length=3000, verbose_name="when it is overdue"),
        ),
        migrations.AlterField(
            model_name="lendingrules",
            name="before_words",
            field=models.TextField(default=NOW["before_words"], max_length=3000, verbose_name="before it is due"),
        ),
        migrations.AlterField(
            model_name="lendingrules",
            name="recall_words",
            field=models.TextField(default=NOW["recall_words"], max_length=3000, verbose_name="when it is recalled"),
        ),
        migrations.AlterField(
            model_name="lendingrules",
            name="sign_words",
            field=models.TextField(
                default=NOW["sign_words"], max_length=3000, verbose_name="when an agreement waits to be signed"
            ),
        ),
        migrations.RunPython(fill, migrations.RunPython.noop, elidable=True),
    ]
