"""Survey: the pieces of a job, the colours they are given, and the routes they take."""

from django.db import models
from django.db.models import Q

from hidewright.workshop.shop.models import Job


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
    colour_number = models.PositiveSmallIntegerField(
        default=0, help_text="which of the job's colours it gets"
    )
    by_us = models.BooleanField(default=True, help_text="false where it is listed and somebody else coats it")
    zones = models.JSONField(
        default=list, blank=True, help_text="in which it is coated, as pieces/zone_queries.py reads them"
    )
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


class JobColour(models.Model):
    """One of the colours of a job. Number 0 is the first, which every job has: with a row here once it has a name or a colour of the shop."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="colours")
    number = models.PositiveSmallIntegerField(default=0)
    name = models.CharField(max_length=60, blank=True, help_text="what the job calls it, such as Tan")
    colour = models.ForeignKey(
        "workshop.Colour", null=True, blank=True, on_delete=models.SET_NULL, related_name="jobs"
    )
    removed = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["job", "number"], name="colour_number_once_a_job")]

    def __str__(self) -> str:
        return self.name or f"colour {self.number + 1}"


class ShopRoute(models.Model):
    """A route as the shop has it: `now` counts in the next plan, `draft` is being changed and counts when it is taken into use."""

    key = models.SlugField(max_length=60, unique=True)
    now = models.JSONField(
        help_text="name, what it is for, coats and steps, as pieces/route_queries.py reads them"
    )
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
