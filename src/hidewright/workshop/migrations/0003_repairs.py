"""A snag that is to be repaired is work of its piece: what it is called, its minutes and its drying."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("workshop", "0002_absences_from_to")]

    operations = [
        migrations.AddField(
            model_name="redo",
            name="name",
            field=models.CharField(blank=True, default="", help_text="what a repair is called", max_length=40),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="redo",
            name="minutes",
            field=models.PositiveSmallIntegerField(default=0, help_text="of hands, for a repair"),
        ),
        migrations.AddField(
            model_name="redo",
            name="dry",
            field=models.PositiveIntegerField(default=0, help_text="min of drying after a repair"),
        ),
        migrations.AddField(
            model_name="snag",
            name="repair",
            field=models.ForeignKey(
                blank=True,
                help_text="the work by which it is repaired",
                null=True,
                on_delete=django.db.models.deletion.SET_NULL,
                related_name="repaired",
                to="workshop.redo",
            ),
        ),
    ]
