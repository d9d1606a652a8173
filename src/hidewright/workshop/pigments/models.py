"""Cups as they were seen: readings of what stands in a vessel, from which the pigments' strength is learned."""

from django.db import models
from django.db.models import Q

from hidewright.defaults import LOAD
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.models import Device, Job, Person


class CupSight(models.Model):
    """One thing seen of a cup, with what was in it then: a reading of it, or a comparison with something else.

    A comparison keeps both sides and what was seen of the difference, never a colour: `said` by an eye, or `delta` by a device. Its other side is another vessel
    (`beside`, with what was in that then), a `swatch` by its name, or, with neither, the piece itself. Only ever added; a wrong one is struck out by a counter-entry (`strikes`).
    """

    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.CASCADE, related_name="cup_sights")
    vessel = models.ForeignKey(MixVessel, on_delete=models.CASCADE, related_name="sights")
    name = models.CharField(max_length=120)
    pours = models.JSONField(default=list, help_text="[lot, grams] in the order in which they went in")
    reflectance = models.JSONField(null=True, blank=True, help_text="31 numbers as read, or empty")
    lab = models.JSONField(null=True, blank=True, help_text="L*, a*, b* where only a colour is known")
    covariance = models.JSONField(
        null=True, blank=True, help_text="of that colour, or of the difference; three by three"
    )
    said = models.JSONField(
        null=True, blank=True, help_text="[word, strength] of this cup against the other side; none: the same"
    )
    delta = models.JSONField(null=True, blank=True, help_text="L*, a*, b* of this cup less the other side")
    beside = models.ForeignKey(
        MixVessel, null=True, blank=True, on_delete=models.SET_NULL, related_name="held_against",
        help_text="the cup or jar that it was held against",
    )  # fmt: skip
    beside_pours = models.JSONField(default=list, blank=True, help_text="what was in that one then")
    swatch = models.CharField(
        max_length=60, blank=True, help_text="the stick or sample that it was held against"
    )
    aimed = models.ForeignKey(
        "workshop.Reading", null=True, blank=True, on_delete=models.SET_NULL, related_name="+",
        help_text="what was known of the piece then",
    )  # fmt: skip
    spread = models.FloatField(default=0.0015, help_text="standard deviation of a reflectance")
    light = models.CharField(max_length=12, default="D65")
    observer = models.CharField(max_length=2, default="10")
    state = models.CharField(max_length=3, default="dry", choices=[("dry", "dry"), ("wet", "wet")])
    source = models.CharField(max_length=20, default="file")
    strikes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="struck_by"
    )
    note = models.CharField(max_length=240, blank=True)
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(reflectance__isnull=False)
                | Q(lab__isnull=False)
                | Q(said__isnull=False)
                | Q(delta__isnull=False)
                | Q(strikes__isnull=False),
                name="sight_says_something",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def compares(self) -> bool:
        """Whether it is a comparison of two things, not a reading of the cup."""
        return self.said is not None or self.delta is not None


class Forgetting(models.Model):
    """That the shop began to learn anew: readings of cups before it no longer count, for all or for one lot. Withdrawn when that is undone."""

    lot = models.CharField(
        max_length=120, blank=True, help_text="the lot it is about, or “:eye”; empty: everything"
    )
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"learning anew from {self.made:%Y-%m-%d %H:%M}"


class ColourSetup(models.Model):
    """How the shop reads and coats (a single row, key 1)."""

    specular = models.BooleanField(
        default=True, help_text="the instrument sees the shine too (specular component included)"
    )
    coat = models.FloatField(default=7.5, help_text="dry µm of one coat")
    load_low = models.FloatField(default=LOAD[0], help_text="least pigment in the mix, share of its volume")
    load_high = models.FloatField(default=LOAD[1], help_text="most pigment in the mix, share of its volume")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(load_low__gt=0, load_high__gte=models.F("load_low"), load_high__lt=1),
                name="load_window_can_be",
            ),
            models.CheckConstraint(condition=Q(coat__gt=0), name="coat_has_a_build"),
        ]

    def __str__(self) -> str:
        return "how the shop reads and coats"


class Lamp(models.Model):
    """A light that somebody measured: its power by wavelength as brought, and the weights worked out from it (31 rows of three)."""

    name = models.CharField(max_length=60)
    nm = models.JSONField()
    power = models.JSONField()
    table = models.JSONField(help_text="tristimulus weights, 10° observer, white gives Y = 100")
    made = models.DateTimeField(auto_now_add=True)
    removed = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["name"], name="lamp_name_once")]

    def __str__(self) -> str:
        return self.name


class Drawdown(models.Model):
    """A film of known content drawn over a black-and-white card and read, dry; set aside rather than erased.

    Where a shop weighed and gauged it, `mix` and `film` hold what it wrote, and `shares` and `microns` what that was when K and S were last found.
    """

    name = models.CharField(max_length=120)
    shares = models.JSONField(help_text="pigment key → dispersion volume in a unit volume of dry film")
    microns = models.FloatField(help_text="dry µm")
    over_black = models.JSONField()
    over_white = models.JSONField()
    black = models.JSONField(help_text="the bare card")
    white = models.JSONField(help_text="the bare card")
    readings = models.PositiveSmallIntegerField(
        default=1, help_text="readings of the film that were averaged"
    )
    mix = models.CharField(
        max_length=600,
        blank=True,
        help_text="what was weighed, as lists/mixes.py reads it; empty: shares were given",
    )
    film = models.CharField(
        max_length=40, blank=True, help_text="the wet film, bar or dry film, as it was given"
    )
    made = models.DateTimeField(auto_now_add=True)
    aside = models.DateTimeField(null=True, blank=True, help_text="taken out of the reckoning")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["name"], condition=Q(aside=None), name="drawdown_name_once"),
        ]

    def __str__(self) -> str:
        return self.name
