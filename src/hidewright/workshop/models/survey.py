"""Survey: the pieces of a job, and the files they came in."""

from django.db import models
from django.db.models import Q

from .jobs import Job


class Piece(models.Model):
    """One piece of the interior; dimensions in m. Removed rather than erased, so that removing can be undone."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="pieces")
    key = models.CharField(max_length=40, help_text="its mark, as written on the part")
    name = models.CharField(max_length=80)
    group = models.CharField(max_length=80, blank=True, help_text="what it belongs to, such as a chair")
    shape = models.CharField(max_length=20)
    length = models.FloatField(help_text="m")
    width = models.FloatField(help_text="m")
    thickness = models.FloatField(default=0, help_text="m")
    measured = models.FloatField(default=0, help_text="coated area in m² off a template; 0: from the shape")
    material = models.CharField(max_length=20, default="leather")
    condition = models.CharField(max_length=20, default="sound")
    sat_on = models.BooleanField(default=False)
    turned = models.BooleanField(default=False)
    strip = models.BooleanField(default=False)
    notes = models.CharField(max_length=400, blank=True)
    order = models.PositiveIntegerField(default=0)
    removed = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["order", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["job", "key"], condition=Q(removed=None), name="piece_mark_once_a_job"
            ),
            models.CheckConstraint(
                condition=Q(length__gt=0, width__gt=0, thickness__gte=0, measured__gte=0),
                name="piece_has_a_size",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.key} {self.name}"


class PieceFile(models.Model):
    """A list of pieces that was brought: looked at first, taken (or not) afterwards."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="piece_files")
    name = models.CharField(max_length=120)
    text = models.TextField()
    unit = models.CharField(max_length=4, default="mm")
    made = models.DateTimeField(auto_now_add=True)
    taken = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made", "-id"]

    def __str__(self) -> str:
        return self.name
