"""Days: the shop's tables and hours, the plans of a job, and the taps by which its work is told."""

from django.db import models

from hidewright.workshop.shop.models import Device, Job, Person, Run


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
    """Work that came up on a piece: it goes through some steps again, such as after a failed inspection, or (with a `name`) it is repaired, a step of its own before its next coat."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="redos")
    piece = models.CharField(max_length=40)
    kinds = models.JSONField(default=list, help_text="which steps again, as the planner names them")
    why = models.CharField(max_length=240, blank=True)
    not_before = models.DateField(
        null=True, blank=True, help_text="the day of the touch-up session that it waits for"
    )
    name = models.CharField(max_length=40, blank=True, help_text="what a repair is called")
    minutes = models.PositiveSmallIntegerField(default=0, help_text="of hands, for a repair")
    dry = models.PositiveIntegerField(default=0, help_text="min of drying after a repair")
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.piece}: {self.name}" if self.name else f"{self.piece} again"


class Hold(models.Model):
    """A piece that waits for something (an approval, a part) before a step."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="holds")
    piece = models.CharField(max_length=40)
    before = models.CharField(
        max_length=40, help_text="the kind of work that waits, or that of one pass, such as back/turn"
    )
    until = models.DateField(help_text="the day from which it may go on")
    snag = models.ForeignKey(
        "workshop.Snag",
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="holds",
        help_text="that it waits for",
    )
    sheet = models.ForeignKey(
        "workshop.Sheet",
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="holds",
        help_text="the colour sheet that somebody must agree to first",
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


class OtherWork(models.Model):
    """One thing that every job takes besides coating, where the shop changed a starting value or added its own."""

    key = models.SlugField(max_length=60, unique=True)
    name = models.CharField(max_length=40)
    per = models.CharField(max_length=20, help_text="how often: a job, a colour, a piece, a person and day")
    when = models.CharField(max_length=40, help_text="when it is done, as the planner names it")
    minutes = models.FloatField(help_text="each time")
    each = models.FloatField(default=0, help_text="minutes more for every piece of the job")
    days = models.PositiveSmallIntegerField(default=0, help_text="to wait for others after it")
    removed = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "other work"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(minutes__gte=0, each__gte=0), name="other_work_takes_no_less_than_nothing"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Milestone(models.Model):
    """Something that others do and the job waits for: an approval, a delivery, the truck."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="milestones")
    what = models.CharField(max_length=80)
    before = models.CharField(max_length=40, help_text="what waits for it, as the planner names it")
    group = models.CharField(max_length=80, blank=True, help_text="which pieces; empty: all of them")
    day = models.DateField(help_text="when it is expected")
    made = models.DateTimeField(auto_now_add=True)
    came = models.DateTimeField(null=True, blank=True)
    lifted = models.DateTimeField(null=True, blank=True, help_text="taken off the list")

    class Meta:
        ordering = ["day", "id"]

    def __str__(self) -> str:
        return f"{self.what}, {self.day}"
