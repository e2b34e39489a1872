"""Seed is priced by the thousand, as it is bought; a price of nought meant that none was known."""

import django.core.validators
from django.db import migrations, models
from django.db.models import F


def by_the_thousand(apps, _schema_editor):
    varieties = apps.get_model("orders", "Variety").objects
    varieties.filter(seed_price__gt=0).update(thousand_seeds_price=F("seed_price") * 1000)


def by_the_seed(apps, _schema_editor):
    varieties = apps.get_model("orders", "Variety").objects
    varieties.filter(thousand_seeds_price__isnull=False).update(seed_price=F("thousand_seeds_price") / 1000)


class Migration(migrations.Migration):

    dependencies = [("orders", "0004_drafts")]

    operations = [
        migrations.AddField(
            model_name="variety",
            name="thousand_seeds_price",
            field=models.DecimalField(
                blank=True,
                decimal_places=2,
                help_text="With it both sides are sown at least cost. Empty: not known.",
                max_digits=9,
                null=True,
                validators=[django.core.validators.MinValueValidator(0)],
                verbose_name="price of 1,000 seeds",
            ),
        ),
        migrations.AddField(
            model_name="variety",
            name="pack_seeds",
            field=models.PositiveIntegerField(
                blank=True,
                help_text="Then what to buy is told in packs.",
                null=True,
                validators=[
                    django.core.validators.MinValueValidator(1),
                    django.core.validators.MaxValueValidator(1000000),
                ],
                verbose_name="seeds in a pack",
            ),
        ),
        migrations.RunPython(by_the_thousand, by_the_seed),
        migrations.RemoveField(model_name="variety", name="seed_price"),
    ]
