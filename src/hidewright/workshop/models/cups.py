"""Cups as they were seen: readings of what stands in a vessel, from which the pigments' strength is learned."""

from django.db import models
from django.db.models import Q

from .jobs import Job
from .mixing import MixVessel
from .shop import Device, Person


class CupSight(models.Model):
    """One reading of a cup, with what was in it then. Only ever added; a wrong one is struck out by a counter-entry (`strikes`)."""

    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.CASCADE, related_name="cup_sights")
    vessel = models.ForeignKey(MixVessel, on_delete=models.CASCADE, related_name="sights")
    name = models.CharField(max_length=120)
    pours = models.JSONField(default=list, help_text="[lot, grams] in the order in which they went in")
    reflectance = models.JSONField(null=True, blank=True, help_text="31 numbers as read, or empty")
    lab = models.JSONField(null=True, blank=True, help_text="L*, a*, b* where only a colour is known")
    covariance = models.JSONField(null=True, blank=True, help_text="of that colour, three by three")
    spread = models.FloatField(default=0.0015, help_text="standard deviation of a reflectance")
    light = models.CharField(max_length=12, default="D65")
    observer = models.CharField(max_length=2, default="10")
    state = models.CharField(max_length=3, default="dry", choices=[("dry", "dry"), ("wet", "wet")])
    source = models.CharField(max_length=20, default="file")
    strikes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="struck_by"
    )
    note = models.CharField(max_length=240, blank=True)
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(reflectance__isnull=False) | Q(lab__isnull=False) | Q(strikes__isnull=False),
                name="sight_says_something",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Forgetting(models.Model):
    """That the shop began to learn anew: readings of cups before it no longer count, for all or for one lot. Withdrawn when that is undone."""

    lot = models.CharField(max_length=120, blank=True, help_text="the lot it is about; empty: all of them")
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"learning anew from {self.made:%Y-%m-%d %H:%M}"
