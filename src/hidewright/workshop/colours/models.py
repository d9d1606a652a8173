"""Colour: the colours of the shop with their versions, a job's readings, its targets, the recipes found, those chosen, and what was sprayed."""

from django.db import models
from django.db.models import Q
from django.utils import timezone

from hidewright.dates import show_day
from hidewright.defaults import TOLERANCE
from hidewright.workshop.shelf.models import MixVessel, Product
from hidewright.workshop.shop.models import Device, Job, Run


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


class Colour(models.Model):
    """A colour of the shop. It outlives the jobs that use it."""

    class Truth(models.TextChoices):
        """Where its truth lies: what a dispute about it is settled against."""

        READING = "reading", "a reading"
        PANEL = "panel", "a panel that was signed"
        JAR = "jar", "a jar that was kept"
        PIECE = "piece", "the piece itself"

    name = models.CharField(max_length=80)
    owner = models.CharField(max_length=120, blank=True, help_text="whose it is")
    truth = models.CharField(max_length=8, choices=Truth.choices, default=Truth.READING)
    tolerance = models.FloatField(default=TOLERANCE, help_text="ΔE00")
    sheen = models.CharField(
        max_length=40, blank=True, help_text="as the shop says it, such as satin, 20 at 60°"
    )
    clear = models.ForeignKey(
        Product,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
        help_text="that goes over it",
    )
    notes = models.TextField(blank=True)
    made = models.DateTimeField(auto_now_add=True)
    put_away = models.DateTimeField(null=True, blank=True)
    edits = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(tolerance__gt=0, tolerance__lte=10), name="colour_tolerance_can_be"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ColourVersion(models.Model):
    """What a colour of the shop was agreed to be, and when it changed. Versions are only added; the newest not withdrawn is in force."""

    colour = models.ForeignKey(Colour, on_delete=models.CASCADE, related_name="versions")
    number = models.PositiveSmallIntegerField()
    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="versions")
    why = models.CharField(max_length=120, blank=True)
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["colour", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["colour", "number"], name="version_number_once_a_colour"),
        ]

    def __str__(self) -> str:
        return f"{self.colour}, version {self.number}"


class Target(models.Model):
    """Which reading is aimed at, over which old colour, and how near is near enough. The newest of a colour that is not withdrawn is in force."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="targets")
    colour_number = models.PositiveSmallIntegerField(default=0, help_text="which of the job's colours")
    version = models.ForeignKey(
        ColourVersion, null=True, blank=True, on_delete=models.SET_NULL, related_name="targets"
    )
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


class Batch(models.Model):
    """What was sprayed: the mix in a vessel when colour of it first left for the gun. What is made later is compared with it, and papers print it."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="batches")
    colour_number = models.PositiveSmallIntegerField(default=0)
    number = models.PositiveSmallIntegerField()
    vessel = models.ForeignKey(MixVessel, on_delete=models.PROTECT, related_name="batches")
    version = models.ForeignKey(
        ColourVersion, null=True, blank=True, on_delete=models.SET_NULL, related_name="batches"
    )
    formula = models.JSONField(help_text="component, lot and µL of each thing in it then")
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "batches"
        constraints = [
            models.UniqueConstraint(
                fields=["job", "colour_number", "number"], name="batch_number_once_a_colour"
            ),
        ]

    def __str__(self) -> str:
        day = timezone.localtime(self.made)
        return f"{self.vessel.name}, sprayed from {show_day(day)}"
