"""Quantities: what a job's forecast stands on, and what its coats really took."""

from django.db import models
from django.db.models import Q

from hidewright.units import counted
from hidewright.workshop.shelf.models import MixEntry, Product, ProductLot
from hidewright.workshop.shop.models import Device, Job


class Figures(models.Model):
    """The figures of a job that somebody set; what is not here follows the recipe and the starting values."""

    job = models.OneToOneField(Job, on_delete=models.CASCADE, related_name="figures")
    changes = models.JSONField(default=dict, blank=True, help_text="name of an assumption → its value")
    colour_changes = models.JSONField(
        default=dict, blank=True, help_text="number of a further colour → its own figures, as in `changes`"
    )
    odds = models.FloatField(default=0.9, help_text="odds of having enough that is bought and mixed for")
    hourly = models.DecimalField(max_digits=8, decimal_places=2, default=60, help_text="money an hour")
    markup = models.FloatField(default=0.15, help_text="on materials")
    price_odds = models.FloatField(default=0.8, help_text="odds of not losing by the price")
    sundries = models.JSONField(default=dict, blank=True, help_text="rule → its own amount")
    tax_name = models.CharField(max_length=40, blank=True)
    tax_rate = models.DecimalField(max_digits=5, decimal_places=4, default=0, help_text="share, 0..1")
    terms = models.TextField(blank=True, help_text="the shop's own text on its quotes")
    version = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "figures"
        constraints = [
            models.CheckConstraint(condition=Q(odds__gt=0, odds__lt=1), name="odds_are_a_share"),
        ]

    def __str__(self) -> str:
        return f"figures of {self.job}"


class Use(models.Model):
    """What a set of pieces took in one stage. Only added; a slip is struck out and entered again."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="uses")
    stage = models.CharField(max_length=20, help_text="wiped-in colour, sprayed colour or clear")
    done = models.JSONField(help_text="piece → share of the stage's coats that it got")
    items = models.JSONField(
        help_text="piece → shape, mL of the whole stage by the starting values then, relative sd of its area, m²"
    )
    millilitres = models.FloatField(help_text="left the jar and did not come back")
    cups = models.PositiveSmallIntegerField(
        default=1, help_text="sessions that left their loss in gun and cup"
    )
    cup_loss = models.FloatField(help_text="mL a session, as reckoned then")
    measured = models.BooleanField(
        default=True,
        help_text="somebody read the amount; a forecast counts coats and litres, and teaches nothing",
    )
    entry = models.ForeignKey(
        MixEntry,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="uses",
        help_text="the bench’s entry that drew it; the use counts as long as that entry does",
    )
    note = models.CharField(max_length=120, blank=True)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)
    struck = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [models.CheckConstraint(condition=Q(millilitres__gt=0), name="use_took_something")]

    def __str__(self) -> str:
        return f"{self.stage}: {self.millilitres:.0f} mL on {counted(len(self.done), 'piece')}"


class HandUse(models.Model):
    """What was used by hand of stripper, cleaner, solvent, primer or a sundry. Only added; a slip is struck out and entered again."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="hand_uses")
    what = models.CharField(max_length=40, help_text="a role of products, or the key of a rule for sundries")
    amount = models.FloatField(help_text="mL, or units of the rule")
    share = models.FloatField(help_text="of the job's work of this kind, 0..1")
    base = models.FloatField(help_text="what that share takes by the starting values, as reckoned then")
    product = models.ForeignKey(
        Product,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="whose stock it was drawn from; none for a sundry",
    )
    lot = models.ForeignKey(ProductLot, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=120, blank=True)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)
    struck = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(amount__gt=0, base__gt=0, share__gt=0, share__lte=1), name="hand_use_can_be"
            )
        ]

    def __str__(self) -> str:
        return f"{self.what}: {self.amount:g}"
