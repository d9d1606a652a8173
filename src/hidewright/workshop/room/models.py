"""Air: the room's volume and fresh air, and readings of its temperature and damp."""

from django.db import models
from django.db.models import Q

from hidewright.workshop.shop.models import Device, Job, Person


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


class DryingSeen(models.Model):
    """One time that somebody saw it dry. A wrong entry is struck out by a counter-entry (`strikes`)."""

    what = models.CharField(max_length=10, help_text="what dried, as the planner names it")
    minutes = models.FloatField()
    celsius = models.FloatField(default=20, help_text="°C in the room meanwhile")
    humidity = models.FloatField(default=0.5, help_text="share, 0..1")
    product = models.CharField(max_length=60, blank=True, help_text="the key of the product that dried")
    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.SET_NULL, related_name="drying_seen")
    piece = models.CharField(max_length=40, blank=True)
    note = models.CharField(max_length=240, blank=True)
    strikes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="struck_by"
    )
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "drying seen"
        constraints = [
            models.CheckConstraint(
                condition=Q(minutes__gt=0, humidity__gte=0, humidity__lte=1), name="drying_took_some_time"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what}: {self.minutes:g} min"


class WorkTable(models.Model):
    """A table, bench or rack on which parts lie; lengths in m."""

    key = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=60)
    length = models.FloatField(help_text="m")
    depth = models.FloatField(help_text="m")
    not_for = models.JSONField(default=list, blank=True, help_text="materials that may not lie on it")
    air = models.CharField(
        max_length=40, blank=True, help_text="name of the air over it; tables without one share theirs"
    )
    active = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(condition=Q(length__gt=0, depth__gt=0), name="table_has_a_size"),
        ]

    def __str__(self) -> str:
        return self.name


class Storage(models.Model):
    """A rack or shelf where coated pieces stand between two passes, and how many it holds."""

    name = models.CharField(max_length=60)
    pieces = models.PositiveSmallIntegerField(help_text="how many it holds")
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "storage"
        constraints = [models.CheckConstraint(condition=Q(pieces__gte=1), name="storage_holds_something")]

    def __str__(self) -> str:
        return self.name


class Hours(models.Model):
    """One stretch of work in a week; without a person it holds for everybody who has no hours of their own."""

    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.CASCADE, related_name="hours")
    weekday = models.PositiveSmallIntegerField(help_text="0 is Monday")
    start = models.TimeField()
    end = models.TimeField()

    class Meta:
        ordering = ["weekday", "start"]
        verbose_name_plural = "hours"
        constraints = [
            models.CheckConstraint(condition=Q(end__gt=models.F("start")), name="hours_end_after_start"),
            models.CheckConstraint(condition=Q(weekday__lte=6), name="hours_weekday"),
        ]

    def __str__(self) -> str:
        return f"{self.weekday} {self.start:%H:%M}–{self.end:%H:%M}"


class DayOff(models.Model):
    """A time without work, of one day or from `day` to `last`, for one person or (without one) for the whole shop."""

    person = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.CASCADE, related_name="days_off"
    )
    day = models.DateField(help_text="the first day")
    last = models.DateField(null=True, blank=True, help_text="the last day; empty: only the first")
    hour = models.TimeField(
        null=True, blank=True, help_text="from when on the first day; empty: the whole day"
    )
    note = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["day"]
        verbose_name_plural = "days off"
        constraints = [
            models.UniqueConstraint(fields=["person", "day"], name="day_off_once_for_a_person"),
            models.UniqueConstraint(
                fields=["day"], condition=Q(person=None), name="day_off_once_for_the_shop"
            ),
            models.CheckConstraint(
                condition=Q(last=None) | Q(last__gte=models.F("day")), name="day_off_ends_after_it_begins"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.day} {self.note}".strip()


class Skills(models.Model):
    """What a person does; a person without a row does everything."""

    person = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="skills")
    kinds = models.JSONField(default=list, help_text="kinds of work, as the planner names them")

    class Meta:
        verbose_name_plural = "skills"

    def __str__(self) -> str:
        return f"{self.person}: {', '.join(self.kinds)}"


class RoomRules(models.Model):
    """The rules of the room (a single row, key 1): guns, the fan at night, and minutes of drying by their name."""

    guns = models.PositiveSmallIntegerField(default=1)
    fan_off = models.JSONField(
        default=list, blank=True, help_text="weekdays on whose evenings the fan goes off: nothing wet is left"
    )
    drying = models.JSONField(default=dict, blank=True, help_text="minutes, where they differ from the usual")
    work = models.JSONField(
        default=dict,
        blank=True,
        help_text="how the work goes, where it differs from the usual: name → number",
    )
    celsius = models.FloatField(default=20, help_text="°C in the room, as it is expected to be")
    humidity = models.FloatField(default=0.5, help_text="share, 0..1")
    version = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "room rules"
        constraints = [models.CheckConstraint(condition=Q(guns__gte=1, guns__lte=9), name="room_has_guns")]

    def __str__(self) -> str:
        return "the rules of the room"


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
