"""Air: the room's volume and fresh air, and readings of its temperature and damp."""

from django.db import models
from django.db.models import Q

from .jobs import Job
from .shop import Device


class AirSetup(models.Model):
    """The room and its fan (a single row, key 1)."""

    room = models.FloatField(null=True, blank=True, help_text="m³ of the room")
    fresh = models.FloatField(
        null=True, blank=True, help_text="m³/h of fresh air, as measured or from the fan's plate"
    )
    mixing = models.FloatField(default=5.0, help_text="K, for how badly the air mixes: 3 to 10")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(mixing__gte=1, mixing__lte=10), name="air_mixing_can_be")
        ]

    def __str__(self) -> str:
        return "the room's air"


class AirReading(models.Model):
    """The air as it was read. Only added; the newest of the day counts."""

    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.CASCADE, related_name="air_readings")
    celsius = models.FloatField()
    humidity = models.FloatField(help_text="share, 0..1")
    surface = models.FloatField(null=True, blank=True, help_text="°C of the part; empty: as warm as the air")
    speed = models.FloatField(default=0.0, help_text="m/s over the work")
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)
    struck = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(condition=Q(humidity__gt=0, humidity__lte=1), name="humidity_is_a_share"),
        ]

    def __str__(self) -> str:
        return f"{self.celsius:g} °C, {100 * self.humidity:g} %"
