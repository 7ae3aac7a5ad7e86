"""Standing repeats building and tag and holds its requirements' outcomes: lists are counted from its indexes alone."""

from collections import defaultdict

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import OuterRef, Subquery

BATCH = 500


def fill(apps, schema_editor):
    Standing = apps.get_model("portfolio", "Standing")
    place = apps.get_model("portfolio", "Position").objects.filter(pk=OuterRef("pk"))
    Standing.objects.update(building=Subquery(place.values("building")[:1]), tag=Subquery(place.values("tag")[:1]))
    ids = list(Standing.objects.order_by("pk").values_list("pk", flat=True))
    for start in range(0, len(ids), BATCH):
        _outcomes(apps, ids[start : start + BATCH])
    schema_editor.connection.check_constraints()  # else PostgreSQL has them pending and alters no table


def _outcomes(apps, ids):
    Standing = apps.get_model("portfolio", "Standing")
    found = defaultdict(dict)
    rows = apps.get_model("portfolio", "RequirementStanding").objects.filter(position__in=ids)
    for position, requirement, outcome in rows.values_list("position", "requirement", "outcome"):
        found[position][requirement] = outcome
    changed = [
        Standing(pk=position, outcomes=" ".join(f"{name}:{outcome}" for name, outcome in sorted(held.items())))
        for position, held in found.items()
    ]
    Standing.objects.bulk_update(changed, ["outcomes"], batch_size=100)


class Migration(migrations.Migration):
    dependencies = [("portfolio", "0001_first")]

    operations = [
        migrations.AddField(
            "standing",
            "building",
            models.ForeignKey(
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="+",
                to="portfolio.building",
            ),
        ),
        migrations.AddField("standing", "tag", models.CharField(default="", max_length=60), preserve_default=False),
        migrations.AddField("standing", "outcomes", models.CharField(blank=True, default="", max_length=2400), False),
        migrations.RunPython(fill, migrations.RunPython.noop),
        migrations.AlterField(
            "standing",
            "building",
            models.ForeignKey(
                db_index=False,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="+",
                to="portfolio.building",
            ),
        ),
        migrations.DeleteModel("RequirementStanding"),
        migrations.RemoveIndex("standing", "portfolio_s_code_b04014_idx"),
        migrations.AddIndex(
            "standing",
            models.Index(fields=["building", "code", "outcomes", "tag", "position"], name="standing_by_outcomes"),
        ),
        migrations.AddIndex(
            "standing",
            models.Index(
                fields=["building", "mover", "code", "company", "due", "since", "tag", "position"],
                name="standing_by_next_move",
            ),
        ),
    ]
