"""What came in: deliveries, how each piece arrived, and pictures. Nothing is erased; what is undone is withdrawn."""

from django.db import models
from django.db.models import Q

from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.models import Device, Job, Person


class Delivery(models.Model):
    """One time that pieces came in; signed by who brought them, or not."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="deliveries")
    number = models.PositiveSmallIntegerField()
    day = models.DateField()
    brought_by = models.CharField(max_length=120)
    note = models.CharField(max_length=400, blank=True)
    signature = models.JSONField(
        null=True, blank=True, help_text="strokes, as charts/signature.py reads them"
    )
    signed_by = models.CharField(max_length=120, blank=True)
    signed = models.DateTimeField(null=True, blank=True)
    person = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.SET_NULL, help_text="who took it in"
    )
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["job", "number", "id"]
        verbose_name_plural = "deliveries"

    def __str__(self) -> str:
        return f"delivery {self.number} of {self.job}"


class Arrival(models.Model):
    """That a piece came in with a delivery, and how it looked then."""

    delivery = models.ForeignKey(Delivery, on_delete=models.CASCADE, related_name="arrivals")
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="arrivals")
    condition = models.CharField(max_length=240, blank=True, help_text="how it looked when it came, in words")
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["piece"], condition=Q(withdrawn=None), name="piece_comes_in_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece} came in"


class PictureKind(models.TextChoices):
    """What a picture is for."""

    ARRIVAL = "arrival", "as it came"
    BEFORE = "before", "before the work"
    AFTER = "after", "after the work"
    REPAIR = "repair", "a repair"
    PANEL = "panel", "a panel or colour"


class PictureState(models.TextChoices):
    """Where a picture stands."""

    WAITING = "waiting", "waiting to be made smaller"
    KEPT = "kept", "kept"
    BROKEN = "broken", "could not be read"


class Picture(models.Model):
    """One picture of a job or of a piece. The files lie under the pictures, each named by the first 32 hex digits of its SHA-256."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="pictures")
    piece = models.ForeignKey(
        Piece, null=True, blank=True, on_delete=models.SET_NULL, related_name="pictures"
    )
    kind = models.CharField(max_length=8, choices=PictureKind.choices, default=PictureKind.ARRIVAL)
    name = models.CharField(max_length=120, help_text="the file's name on the phone")
    state = models.CharField(max_length=8, choices=PictureState.choices, default=PictureState.WAITING)
    waiting = models.CharField(max_length=80, blank=True, help_text="the file as it came, under incoming")
    file = models.CharField(max_length=40, blank=True)
    small = models.CharField(max_length=40, blank=True, help_text="the same, as a thumbnail")
    why = models.CharField(max_length=240, blank=True, help_text="why it could not be read")
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["job", "state"])]

    def __str__(self) -> str:
        return self.name
