"""Jobs: one interior, from its arrival to its touch-up jar."""

from django.db import models


class Job(models.Model):
    """One interior. The stages hang their rows on it."""

    name = models.CharField(max_length=120)
    kind = models.CharField(
        max_length=60, blank=True, help_text="rail car, aircraft cabin, yacht, motor car, lobby …"
    )
    client = models.CharField(max_length=120, blank=True)
    notes = models.TextField(blank=True)
    starts = models.DateField(help_text="first working day")
    promised = models.DateField(null=True, blank=True, help_text="the day it must leave")
    made = models.DateTimeField(auto_now_add=True)
    put_away = models.DateTimeField(null=True, blank=True)
    is_demo = models.BooleanField(default=False, help_text="an invented job for looking round")

    class Meta:
        ordering = ["-made"]

    def __str__(self) -> str:
        return self.name
