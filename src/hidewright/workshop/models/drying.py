"""Drying as it was seen: how long something really took until it was dry, and in what air. Only ever added."""

from django.db import models
from django.db.models import Q

from .jobs import Job
from .shop import Device, Person


class DryingSeen(models.Model):
    """One time that somebody saw it dry. A wrong entry is struck out by a counter-entry (`strikes`)."""

    what = models.CharField(max_length=10, help_text="what dried, as the planner names it")
    minutes = models.FloatField()
    celsius = models.FloatField(default=20, help_text="°C in the room meanwhile")
    humidity = models.FloatField(default=0.5, help_text="share, 0..1")
    product = models.CharField(max_length=60, blank=True, help_text="the key of the product that dried")
    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.SET_NULL, related_name="drying_seen")
    piece = models.CharField(max_length=40, blank=True)
    note = models.CharField(max_length=240, blank=True)
    strikes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="struck_by"
    )
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "drying seen"
        constraints = [
            models.CheckConstraint(
                condition=Q(minutes__gt=0, humidity__gte=0, humidity__lte=1), name="drying_took_some_time"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what}: {self.minutes:g} min"
