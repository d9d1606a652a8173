"""Colour: the shop's pigments with what was read of them, a job's readings, its target, the recipes found and the one chosen."""

from django.db import models
from django.db.models import Q

from hidewright.defaults import LOAD, TOLERANCE

from .jobs import Job
from .runs import Run
from .shop import Device


class Pigment(models.Model):
    """A pigment dispersion of the shop. Spectra are lists of 31 numbers, 400 to 700 nm by 10 nm, per µm of dry film; empty until found."""

    key = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    index = models.CharField(max_length=40, blank=True, help_text="Colour Index generic name")
    density = models.FloatField(default=1.2, help_text="g/mL of the dispersion")
    solids = models.FloatField(default=0.4, help_text="share of the volume that stays when dry, 0..1")
    price = models.DecimalField(max_digits=10, decimal_places=2, default=0, help_text="money per litre")
    note = models.CharField(max_length=160, blank=True)
    k = models.JSONField(null=True, blank=True)
    s = models.JSONField(null=True, blank=True)
    k_sd = models.JSONField(null=True, blank=True, help_text="relative")
    s_sd = models.JSONField(null=True, blank=True, help_text="relative")
    provenance = models.CharField(
        max_length=200, blank=True, help_text="where K and S come from; empty: from the shop’s own drawdowns"
    )
    misfit = models.JSONField(default=dict, blank=True, help_text="drawdown → ΔE00 over black, over white")
    learned = models.JSONField(
        null=True, blank=True, help_text="K, S, strength and spread by what cups told since"
    )
    undetermined = models.BooleanField(default=False, help_text="its scattering could not be told")
    characterised = models.DateTimeField(null=True, blank=True)
    on_shelf = models.BooleanField(default=True)
    active = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(density__gte=0.5, density__lte=6.0), name="pigment_density_can_be"
            ),
            models.CheckConstraint(condition=Q(solids__gt=0, solids__lte=1), name="pigment_solids_can_be"),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.key})" if self.key != self.name else self.name


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


class PigmentLot(models.Model):
    """One bottle or can of a pigment: another lot may be of another strength."""

    pigment = models.ForeignKey(Pigment, on_delete=models.CASCADE, related_name="lots")
    name = models.CharField(max_length=60, help_text="what stands on the bottle")
    volume = models.FloatField(null=True, blank=True, help_text="mL when it came")
    left = models.FloatField(null=True, blank=True, help_text="mL when it was last looked at")
    counted = models.DateTimeField(null=True, blank=True, help_text="when it was last looked at")
    received = models.DateField(null=True, blank=True)
    opened = models.DateField(null=True, blank=True)
    keep_until = models.DateField(null=True, blank=True)
    finished = models.DateField(null=True, blank=True)
    made = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-made", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["pigment", "name"], name="lot_once"),
            models.CheckConstraint(condition=Q(left=None) | Q(left__gte=0), name="lot_is_not_below_nothing"),
        ]

    def __str__(self) -> str:
        return f"{self.pigment.name}, lot {self.name}"


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
    """A film of known content drawn over a black-and-white card and read, dry; set aside rather than erased."""

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
    made = models.DateTimeField(auto_now_add=True)
    aside = models.DateTimeField(null=True, blank=True, help_text="taken out of the reckoning")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["name"], condition=Q(aside=None), name="drawdown_name_once"),
        ]

    def __str__(self) -> str:
        return self.name


class Reading(models.Model):
    """One reading of a job: a spectrum, or a colour under one light. Readings are struck out, never erased or changed."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="readings")
    name = models.CharField(max_length=120)
    reflectance = models.JSONField(null=True, blank=True, help_text="31 numbers as read, or empty")
    lab = models.JSONField(null=True, blank=True, help_text="L*, a*, b* where only a colour is known")
    light = models.CharField(max_length=12, default="D65")
    observer = models.CharField(max_length=2, default="10")
    state = models.CharField(max_length=3, default="dry", choices=[("dry", "dry"), ("wet", "wet")])
    over = models.CharField(max_length=80, blank=True, help_text="what it lay over")
    source = models.CharField(
        max_length=20, default="file", help_text="file, typed, photo, by eye, worked out"
    )
    spread = models.FloatField(default=0.3, help_text="standard deviation, CIELAB units a channel")
    note = models.CharField(max_length=240, blank=True)
    made = models.DateTimeField(auto_now_add=True)
    struck = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(reflectance__isnull=False) | Q(lab__isnull=False), name="reading_says_something"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Target(models.Model):
    """Which reading is aimed at, over which old colour, and how near is near enough. The newest that is not withdrawn is in force."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="targets")
    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="+")
    old = models.ForeignKey(Reading, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    tolerance = models.FloatField(default=TOLERANCE, help_text="ΔE00")
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(condition=Q(tolerance__gt=0, tolerance__lte=10), name="tolerance_can_be"),
        ]

    def __str__(self) -> str:
        return f"{self.reading} within {self.tolerance}"


class Recipe(models.Model):
    """A recipe that was found for a target; `data` as papers take it, with the forecast spectrum."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="recipes")
    target = models.ForeignKey(Target, on_delete=models.PROTECT, related_name="recipes")
    run = models.ForeignKey(Run, null=True, blank=True, on_delete=models.SET_NULL, related_name="recipes")
    name = models.CharField(max_length=60)
    rank = models.PositiveSmallIntegerField(help_text="1 is the best of its search")
    batch = models.PositiveIntegerField(help_text="which search of the job found it; the newest is shown")
    way = models.CharField(max_length=20, default="match", help_text="match, by hand")
    data = models.JSONField()
    made = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-batch", "rank"]
        constraints = [
            models.UniqueConstraint(fields=["job", "batch", "rank"], name="recipe_rank_once"),
        ]

    def __str__(self) -> str:
        return self.name


class Choice(models.Model):
    """That a recipe was chosen. Choices are only added; the newest that is not withdrawn is in force."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="choices")
    recipe = models.ForeignKey(Recipe, on_delete=models.PROTECT, related_name="choices")
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.recipe} chosen"
