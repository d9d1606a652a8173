"""Mixing: vessels, and the append-only book of everything poured, split, boxed, crosslinked, used and thrown away.

Entries and moves are only ever added. What is in a vessel is worked out from them; no row keeps a level.
"""

from django.db import models
from django.db.models import Q

from .colour import Recipe
from .jobs import Job
from .shop import Device, Person


class MixVessel(models.Model):
    """A cup, a gun load or a jar. `plan` is the recipe that is poured into it, as it was when the cup was begun."""

    class Kind(models.TextChoices):
        """What it is for."""

        CUP = "cup", "cup"
        PORTION = "portion", "gun load"
        JAR = "jar", "jar"

    class Measure(models.TextChoices):
        """How pours are measured."""

        RUNNING = "running", "on the balance, running total"
        EACH = "each", "on the balance, zeroed before each pour"
        DROPS = "drops", "in drops"
        VOLUME = "mL", "in mL"

    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.CASCADE, related_name="vessels")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    name = models.CharField(max_length=60)
    capacity = models.BigIntegerField(help_text="µL to the line")
    tare = models.FloatField(
        default=0.0, help_text="g of the empty vessel; 0 when the balance was zeroed with it"
    )
    measure = models.CharField(max_length=8, choices=Measure.choices, default=Measure.RUNNING)
    grain = models.FloatField(default=0.1, help_text="g, the balance's last digit")
    recipe = models.ForeignKey(Recipe, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    plan = models.JSONField(
        null=True, blank=True, help_text="name and parts (key, name, share, density, hex)"
    )
    aim = models.BigIntegerField(null=True, blank=True, help_text="µL to mix")
    accepted = models.DateTimeField(
        null=True, blank=True, help_text="taken as it is, though not to the recipe"
    )
    turns = models.PositiveIntegerField(default=0, help_text="entries so far that touch it")
    pot_life = models.FloatField(null=True, blank=True, help_text="min, from the crosslinker's data sheet")
    kept_on = models.DateField(null=True, blank=True)
    keep_until = models.DateField(null=True, blank=True)
    made = models.DateTimeField(auto_now_add=True)
    put_away = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(capacity__gt=0), name="vessel_holds_something"),
            models.CheckConstraint(condition=Q(tare__gte=0), name="vessel_tare_can_be"),
            models.CheckConstraint(condition=Q(aim__gt=0) | Q(aim=None), name="vessel_aim_can_be"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def key(self) -> str:
        """Its name in the ledger."""
        return f"v{self.pk}"


class MixComponent(models.Model):
    """What can stand in a vessel: name, density and screen colour as last poured."""

    key = models.CharField(max_length=60, primary_key=True)
    name = models.CharField(max_length=80)
    density = models.FloatField(help_text="g/mL")
    hex = models.CharField(max_length=7, blank=True)
    drop = models.FloatField(null=True, blank=True, help_text="mL of one drop of its bottle, as calibrated")
    crosslinker = models.BooleanField(default=False)

    def __str__(self) -> str:
        return self.name


class MixEntry(models.Model):
    """One line of the book. `token` comes from the form, so that a double tap is kept once; its key gives the order."""

    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.CASCADE, related_name="mix_entries")
    act = models.CharField(max_length=12)
    counters = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="countered_by"
    )
    token = models.CharField(max_length=64, unique=True, null=True, blank=True)
    text = models.CharField(max_length=200)
    note = models.CharField(max_length=200, blank=True)
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "mix entries"

    def __str__(self) -> str:
        return self.text


class MixMove(models.Model):
    """`amount` µL of one component's lot from one place to another: v12 (a vessel), stock, sprayed or waste."""

    entry = models.ForeignKey(MixEntry, on_delete=models.CASCADE, related_name="moves")
    source = models.CharField(max_length=24)
    target = models.CharField(max_length=24)
    component = models.CharField(max_length=60)
    lot = models.CharField(max_length=60, blank=True)
    amount = models.BigIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [models.CheckConstraint(condition=Q(amount__gt=0), name="move_moves_something")]
        indexes = [models.Index(fields=["component", "lot"])]

    def __str__(self) -> str:
        return f"{self.amount} µL {self.component} {self.source} → {self.target}"


class MixTurn(models.Model):
    """The place of an entry in the sequence of one vessel: no two entries share one, however many write at once."""

    vessel = models.ForeignKey(MixVessel, on_delete=models.CASCADE, related_name="sequence")
    entry = models.ForeignKey(MixEntry, on_delete=models.CASCADE, related_name="turns")
    seq = models.PositiveIntegerField()

    class Meta:
        ordering = ["vessel", "seq"]
        constraints = [
            models.UniqueConstraint(fields=["vessel", "seq"], name="vessel_turn_once"),
            models.UniqueConstraint(fields=["vessel", "entry"], name="vessel_entry_once"),
        ]

    def __str__(self) -> str:
        return f"{self.vessel} {self.seq}"


class GunSetup(models.Model):
    """The shop's gun (a single row, key 1)."""

    cup = models.FloatField(default=600.0, help_text="mL to the line")
    per_minute = models.FloatField(
        null=True, blank=True, help_text="mL laid down a minute, turning included; empty: from the pace"
    )

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(cup__gt=0), name="gun_cup_holds_something")]

    def __str__(self) -> str:
        return "the shop's gun"
