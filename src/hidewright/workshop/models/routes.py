"""Routes: the shop's own lists of steps, and which of them a job or a piece takes in place of the one that is for it."""

from django.db import models
from django.db.models import Q

from .jobs import Job


class ShopRoute(models.Model):
    """A route as the shop has it: `now` counts in the next plan, `draft` is being changed and counts when it is taken into use."""

    key = models.SlugField(max_length=60, unique=True)
    now = models.JSONField(help_text="name, what it is for, coats and steps, as gather/routes.py reads them")
    draft = models.JSONField(null=True, blank=True)
    order = models.IntegerField(default=0)
    used = models.DateTimeField(null=True, blank=True, help_text="when what is planned with it last changed")
    removed = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["order", "id"]

    def __str__(self) -> str:
        return str(self.now.get("name", self.key))


class RouteChoice(models.Model):
    """The route that a piece takes, or (without a piece) all pieces of a job; without one, the shop's list says which."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="route_choices")
    piece = models.CharField(max_length=40, blank=True)
    route = models.SlugField(max_length=60, help_text="the key of a route, the shop's own or a shipped one")
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["piece", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["job", "piece"], condition=Q(withdrawn=None), name="one_route_for_a_piece"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece or 'all pieces'}: {self.route}"
