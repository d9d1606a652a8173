"""The end of a job: hand-overs with what went out, and what stayed."""

from django.db import models
from django.db.models import Q

from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.models import Device, Job, Person


class HandOver(models.Model):
    """One time that pieces go out; open while it is packed, over once it is signed at the other end."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="hand_overs")
    number = models.PositiveSmallIntegerField()
    to = models.CharField(max_length=120, blank=True, help_text="who took it over")
    day = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=400, blank=True)
    kit = models.JSONField(default=list, help_text="what goes along for touching up, in words")
    signature = models.JSONField(
        null=True, blank=True, help_text="strokes, as charts/signature.py reads them"
    )
    signed = models.DateTimeField(null=True, blank=True)
    person = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.SET_NULL, help_text="who handed it over"
    )
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["job", "number", "id"]

    def __str__(self) -> str:
        return f"hand-over {self.number} of {self.job}"


class PackedPiece(models.Model):
    """A piece in a hand-over: packed, or named as staying with the reason."""

    hand_over = models.ForeignKey(HandOver, on_delete=models.CASCADE, related_name="lines")
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="packed")
    stays = models.CharField(max_length=240, blank=True, help_text="why it does not go out; empty: packed")
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["hand_over", "piece"], condition=Q(withdrawn=None), name="piece_once_a_hand_over"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece} {'stays' if self.stays else 'packed'}"
