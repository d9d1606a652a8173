"""Colour: the shop's pigments with what was read of them, a job's readings, its target, the recipes found and the one chosen."""

from django.db import models
from django.db.models import Q

from hidewright.defaults import TOLERANCE
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
