"""Sessions that were done: one event for the ticks, the colour drawn, the coats, the drying and what the shop learns."""

from django.db import models

from hidewright.workshop.days.models import TapKind
from hidewright.workshop.quantities.models import Use
from hidewright.workshop.shelf.models import MixEntry, StockMove
from hidewright.workshop.shop.models import Device, Job, Person


class SessionDone(models.Model):
    """One event of the one book: this work was done, with this load. Events are only added; what was wrong is withdrawn and told anew.

    A session told once counts once: `token` comes from the device. What the event drew and logged hangs on it and goes with it.
    """

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="sessions_done")
    token = models.CharField(max_length=64, unique=True, null=True, blank=True)
    kind = models.CharField(max_length=4, choices=TapKind.choices)
    keys = models.JSONField(
        default=list, help_text="the acts that this event changed, as the plan names them"
    )
    amounts = models.JSONField(
        default=dict, help_text="pot → mL that somebody read; the rest was the forecast"
    )
    entries = models.ManyToManyField(MixEntry, related_name="sessions")
    uses = models.ManyToManyField(Use, related_name="sessions")
    moves = models.ManyToManyField(StockMove, related_name="sessions")
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    at = models.DateTimeField(help_text="when the finger touched, by the device's clock")
    made = models.DateTimeField(auto_now_add=True)
    note = models.CharField(max_length=240, blank=True, help_text="what was odd about it")
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "sessions done"
        indexes = [models.Index(fields=["job", "withdrawn"])]

    def __str__(self) -> str:
        return f"{len(self.keys)} acts {self.kind}"
