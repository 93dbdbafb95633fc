from django.db import migrations, models
from django.db.models import CharField, F, Value
from django.db.models.functions import Cast, Concat, Now, TruncDate


def let_forgotten_pupils_leave(apps, schema_editor):
    """Who was forgotten stood in the list of pupils as `former pupil 5`, where nobody had said that they left."""
    named = Concat(Value("former pupil "), Cast(F("pk"), CharField()))
    forgotten = apps.get_model("people", "Pupil").objects.annotate(forgotten=named)
    forgotten.filter(left_on=None, name=F("forgotten")).update(left_on=TruncDate(Now()))


class Migration(migrations.Migration):
    dependencies = [("people", "0011_search_and_order")]

    operations = [
        migrations.AddField(
            "pupil",
            "struck_out",
            models.CharField(
                blank=True, db_default="", default="", editable=False, max_length=300, verbose_name="struck out"
            ),
        ),
        migrations.RunPython(let_forgotten_pupils_leave, migrations.RunPython.noop, elidable=True),
    ]
