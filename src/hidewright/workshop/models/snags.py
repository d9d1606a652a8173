"""Snags: damage or a missing piece found while working; the work goes on round it."""

from django.db import models

from .jobs import Job
from .shop import Device, Person


class SnagKind(models.TextChoices):
    """What was found."""

    DAMAGE = "damage", "damage"
    MISSING_PIECE = "missing", "missing piece"
    MISSING_PLACARD = "placard", "missing or unreadable placard"
    COLOUR = "colour", "colour is off"
    OTHER = "other", "something else"


class Decision(models.TextChoices):
    """What is to be done about it."""

    OPEN = "", "not decided yet"
    REPAIR = "repair", "repair"
    REPLACE = "replace", "replace"
    ASK = "ask", "ask the client"
    WAIT = "wait", "wait"
    LEAVE = "leave", "leave as it is"


class Snag(models.Model):
    """One snag. Its entries tell its story; the columns `decision` and `closed` hold how it stands now."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="snags")
    what = models.CharField(max_length=240)
    kind = models.CharField(max_length=10, choices=SnagKind.choices, default=SnagKind.DAMAGE)
    piece = models.CharField(max_length=120, blank=True, help_text="the piece's code or where it was")
    tap = models.CharField(max_length=64, blank=True, help_text="the tap of the page Days that raised it")
    picture = models.CharField(max_length=120, blank=True, help_text="file name under the pictures")
    decision = models.CharField(max_length=8, choices=Decision.choices, blank=True, default="")
    found = models.DateTimeField(auto_now_add=True)
    closed = models.DateTimeField(null=True, blank=True)
    withdrawn = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-found", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["tap"], condition=~models.Q(tap=""), name="snag_once_for_each_tap"
            ),
        ]

    def __str__(self) -> str:
        return self.what


class SnagEntry(models.Model):
    """One line of a snag's story: found, decided, a note, closed, opened again. Only ever added."""

    snag = models.ForeignKey(Snag, on_delete=models.CASCADE, related_name="entries")
    text = models.CharField(max_length=400)
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "snag entries"

    def __str__(self) -> str:
        return self.text
