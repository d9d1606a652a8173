"""Days: the shop's tables and hours, the plans of a job, and the taps by which its work is told."""

from django.db import models
from django.db.models import Q

from .jobs import Job
from .runs import Run
from .shop import Device, Person
from .snags import Snag


class WorkTable(models.Model):
    """A table, bench or rack on which parts lie; lengths in m."""

    key = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=60)
    length = models.FloatField(help_text="m")
    depth = models.FloatField(help_text="m")
    not_for = models.JSONField(default=list, blank=True, help_text="materials that may not lie on it")
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
    """A day without work, for one person or (without one) for the whole shop."""

    person = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.CASCADE, related_name="days_off"
    )
    day = models.DateField()
    note = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["day"]
        verbose_name_plural = "days off"
        constraints = [
            models.UniqueConstraint(fields=["person", "day"], name="day_off_once_for_a_person"),
            models.UniqueConstraint(
                fields=["day"], condition=Q(person=None), name="day_off_once_for_the_shop"
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
    celsius = models.FloatField(default=20, help_text="°C in the room, as it is expected to be")
    humidity = models.FloatField(default=0.5, help_text="share, 0..1")
    version = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "room rules"
        constraints = [models.CheckConstraint(condition=Q(guns__gte=1, guns__lte=9), name="room_has_guns")]

    def __str__(self) -> str:
        return "the rules of the room"


class Plan(models.Model):
    """One audited plan of a job, as the planner gave it; the newest of a job is the one in force."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="plans")
    run = models.ForeignKey(Run, null=True, blank=True, on_delete=models.SET_NULL, related_name="plans")
    made = models.DateTimeField(auto_now_add=True)
    because = models.CharField(max_length=160, blank=True, help_text="why it was made")
    data = models.JSONField(help_text="the plan as it is shown, and as the planner takes it; large")
    facts = models.JSONField(
        default=dict, blank=True, help_text="how it came out, why no earlier, the bottleneck"
    )
    finish = models.DateField(help_text="the day on which the last work ends")
    bound = models.DateField(null=True, blank=True, help_text="no plan can end before this day")
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"plan of {self.made:%Y-%m-%d %H:%M}"


class Redo(models.Model):
    """A piece that has to go through some steps again, such as after a failed inspection."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="redos")
    piece = models.CharField(max_length=40)
    kinds = models.JSONField(default=list, help_text="which steps again, as the planner names them")
    why = models.CharField(max_length=240, blank=True)
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.piece} again"


class Hold(models.Model):
    """A piece that waits for something (an approval, a part) before a step."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="holds")
    piece = models.CharField(max_length=40)
    before = models.CharField(
        max_length=40, help_text="the kind of work that waits, or that of one pass, such as back/turn"
    )
    until = models.DateField(help_text="the day from which it may go on")
    snag = models.ForeignKey(
        Snag,
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="holds",
        help_text="that it waits for",
    )
    why = models.CharField(max_length=240, blank=True)
    made = models.DateTimeField(auto_now_add=True)
    lifted = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["until", "id"]

    def __str__(self) -> str:
        return f"{self.piece} waits until {self.until}"


class Due(models.Model):
    """A piece that must be done by a day of its own, before the job's."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="dues")
    piece = models.CharField(max_length=40)
    day = models.DateField()
    why = models.CharField(max_length=240, blank=True)
    made = models.DateTimeField(auto_now_add=True)
    lifted = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["day", "id"]

    def __str__(self) -> str:
        return f"{self.piece} by {self.day}"


class TapKind(models.TextChoices):
    """What a tap tells."""

    DONE = "done", "done"
    UNDO = "undo", "not done after all"
    SNAG = "snag", "a snag"


class Tap(models.Model):
    """One tap on one piece of work. Taps are only ever added; the last one of an act tells how it stands.

    `token` comes from the device, so that a tap sent twice over a bad connection counts once.
    """

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="taps")
    act_key = models.CharField(max_length=160, help_text="which piece of work, the same in every plan")
    kind = models.CharField(max_length=4, choices=TapKind.choices)
    token = models.CharField(max_length=64, unique=True)
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    at = models.DateTimeField(help_text="when the finger touched, by the device's clock")
    kept = models.DateTimeField(auto_now_add=True)
    minutes = models.FloatField(null=True, blank=True, help_text="how long it really took, when told")
    note = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering = ["kept", "id"]
        indexes = [models.Index(fields=["job", "act_key"])]

    def __str__(self) -> str:
        return f"{self.act_key}: {self.kind}"
