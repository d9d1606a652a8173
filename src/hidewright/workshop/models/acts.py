"""Acts: what was done, by whom, and how to undo it; and tokens that make a double tap count once."""

from django.db import models

from .jobs import Job
from .shop import Device


class Act(models.Model):
    """One user act in words, with what undoes it (empty where a counter-entry is the only way)."""

    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.CASCADE, related_name="acts")
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    text = models.CharField(max_length=240)
    undo_name = models.CharField(max_length=80, blank=True)
    undo_with = models.JSONField(default=dict, blank=True)
    done = models.DateTimeField(auto_now_add=True)
    undone = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-done", "-id"]

    def __str__(self) -> str:
        return self.text


class Token(models.Model):
    """One form's token: the first submission claims it; a second tap is led to where the first one went."""

    key = models.CharField(max_length=64, primary_key=True)
    claimed = models.DateTimeField(auto_now_add=True)
    answer_status = models.PositiveSmallIntegerField(null=True, blank=True)
    answer_location = models.CharField(max_length=400, blank=True)

    def __str__(self) -> str:
        return self.key
