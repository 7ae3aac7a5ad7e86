"""A standing's outcomes name each outcome once, with its requirements, and no longer each requirement's outcome."""

from collections import defaultdict

from django.db import migrations


def by_word(apps, schema_editor):
    Standing = apps.get_model("portfolio", "Standing")
    texts = Standing.objects.exclude(outcomes="").values_list("outcomes", flat=True).order_by().distinct()
    for text in list(texts):
        Standing.objects.filter(outcomes=text).update(outcomes=_turned(text))


def _turned(text):
    """
    >>> _turned("design_airflow:conforms one_session:not_due")
    'conforms:design_airflow not_due:one_session'
    """
    found = defaultdict(list)
    for one in sorted(text.split()):
        requirement, outcome = one.split(":")
        found[outcome].append(requirement)
    return " ".join(f"{outcome}:{','.join(names)}" for outcome, names in sorted(found.items()))


class Migration(migrations.Migration):
    dependencies = [("portfolio", "0003_signature")]

    operations = [migrations.RunPython(by_word, migrations.RunPython.noop)]
