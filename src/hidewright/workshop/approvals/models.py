"""Approvals: up to four variants of a colour, which of them was agreed, and links by which somebody outside may look."""

from django.db import models
from django.db.models import Q

from hidewright.workshop.colours.models import ColourVersion, Reading, Target
from hidewright.workshop.shop.models import Device, Job, Person


class Sheet(models.Model):
    """Variants of one of a job's colours, put side by side for somebody to choose from."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="sheets")
    colour_number = models.PositiveSmallIntegerField(default=0)
    number = models.PositiveSmallIntegerField(help_text="which of the job's sheets")
    note = models.CharField(max_length=400, blank=True)
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"colour sheet {self.number}"


class Variant(models.Model):
    """One colour of a sheet, with what it takes as it was worked out then."""

    sheet = models.ForeignKey(Sheet, on_delete=models.CASCADE, related_name="variants")
    place = models.PositiveSmallIntegerField(help_text="1 to 4, from the left")
    name = models.CharField(max_length=80)
    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="variants")
    panel = models.CharField(max_length=40, blank=True, help_text="the code on the real panel")
    takes = models.JSONField(
        default=dict, help_text="hex, lab, coats, money, days, delta_e, as worked out then"
    )
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["sheet", "place", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["sheet", "place"], condition=Q(withdrawn=None), name="variant_place_once_a_sheet"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Agreement(models.Model):
    """That somebody agreed to a variant: who, when, in which light. A later one takes its place; it stays on record."""

    sheet = models.ForeignKey(Sheet, on_delete=models.PROTECT, related_name="agreements")
    variant = models.ForeignKey(Variant, on_delete=models.PROTECT, related_name="agreements")
    name = models.CharField(max_length=120, help_text="who agreed")
    day = models.DateField()
    light = models.CharField(max_length=80, help_text="in which it was judged")
    judged_on = models.CharField(max_length=8, default="panel", help_text="panel, piece, cup, screen")
    tolerance = models.FloatField(help_text="ΔE00")
    signature = models.JSONField(
        null=True, blank=True, help_text="strokes, as charts/signature.py reads them"
    )
    scan = models.CharField(max_length=40, blank=True, help_text="file under the pictures: a signed sheet")
    version = models.ForeignKey(
        ColourVersion, null=True, blank=True, on_delete=models.SET_NULL, related_name="agreements"
    )
    target = models.ForeignKey(
        Target, null=True, blank=True, on_delete=models.SET_NULL, related_name="agreements"
    )
    person = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.SET_NULL, help_text="who took it down"
    )
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(tolerance__gt=0, tolerance__lte=10), name="agreed_tolerance_can_be"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.variant} agreed by {self.name}"


class ViewerLink(models.Model):
    """A link by which somebody outside may look at one sheet, until it ends or is taken back; only its hash is kept."""

    sheet = models.ForeignKey(Sheet, on_delete=models.CASCADE, related_name="links")
    token_hash = models.CharField(max_length=64, unique=True)
    for_whom = models.CharField(max_length=120, blank=True)
    made = models.DateTimeField(auto_now_add=True)
    expires = models.DateTimeField()
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"link to {self.sheet}"
