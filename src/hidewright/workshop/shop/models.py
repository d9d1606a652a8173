"""The shop itself: its settings, its people, and the devices that were let in."""

from django.db import models

from hidewright.units import plural


class Shop(models.Model):
    """The one shop this server works for (a single row, key 1)."""

    name = models.CharField(max_length=120, default="The shop")
    units = models.CharField(max_length=8, default="metric", choices=[("metric", "Metric"), ("us", "US")])
    currency = models.CharField(max_length=8, default="$")
    balance_step = models.FloatField(default=0.1, help_text="g, the last digit of the shop's balance")
    drop = models.FloatField(default=0.05, help_text="mL of one drop of a bottle that was not calibrated")
    address = models.CharField(
        max_length=200, blank=True, help_text="where the other devices find this server"
    )
    snag_word = models.CharField(
        max_length=20, default="snag", help_text="the shop's own word for damage or something missing"
    )

    def __str__(self) -> str:
        return self.name

    @property
    def snag_words(self) -> str:
        """The shop's own word for more than one snag."""
        return plural(self.snag_word)


class Role(models.TextChoices):
    """What somebody may do, once the shop has an owner."""

    OWNER = "owner", "owner"
    BENCH = "bench", "bench"
    VIEWER = "viewer", "viewer"


class Person(models.Model):
    """Somebody who works in the shop; pours, signatures and days are theirs."""

    key = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    active = models.BooleanField(default=True)
    credentials = models.TextField(
        blank=True, help_text="licences, training and their dates, as the shop keeps them"
    )
    role = models.CharField(max_length=8, choices=Role.choices, default=Role.BENCH)
    secret = models.CharField(
        max_length=200, blank=True, help_text="PIN or password, hashed; never in a copy"
    )
    wrong_tries = models.PositiveSmallIntegerField(default=0)
    paused_until = models.DateTimeField(null=True, blank=True, help_text="after too many wrong tries")

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Device(models.Model):
    """A browser that came in through a one-time link."""

    name = models.CharField(max_length=80)
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    signed_in = models.DateTimeField(null=True, blank=True, help_text="when the person proved who they are")
    let_in = models.DateTimeField(auto_now_add=True)
    shut_out = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-let_in"]

    def __str__(self) -> str:
        return self.name


class OneTimeLink(models.Model):
    """A link that lets one device in, once, for a short time; only its hash is kept."""

    token_hash = models.CharField(max_length=64, unique=True)
    made = models.DateTimeField(auto_now_add=True)
    expires = models.DateTimeField()
    used = models.DateTimeField(null=True, blank=True)
    device = models.OneToOneField(Device, null=True, blank=True, on_delete=models.SET_NULL)

    def __str__(self) -> str:
        return f"link of {self.made:%Y-%m-%d %H:%M}"


class Job(models.Model):
    """One interior. The stages hang their rows on it."""

    name = models.CharField(max_length=120)
    kind = models.CharField(
        max_length=60, blank=True, help_text="rail car, aircraft cabin, yacht, motor car, lobby …"
    )
    client = models.CharField(max_length=120, blank=True)
    registration = models.CharField(
        max_length=40, blank=True, help_text="the craft's own mark: tail, hull, road or fleet number"
    )
    notes = models.TextField(blank=True)
    starts = models.DateField(help_text="first working day")
    promised = models.DateField(null=True, blank=True, help_text="the day it must leave")
    rank = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="which of the open jobs goes first; 1 is the first"
    )
    made = models.DateTimeField(auto_now_add=True)
    put_away = models.DateTimeField(null=True, blank=True)
    is_demo = models.BooleanField(default=False, help_text="an invented job for looking round")

    class Meta:
        ordering = ["-made"]

    def __str__(self) -> str:
        return self.name


class Contact(models.Model):
    """Somebody outside the shop who has a say or must act in a job: the owner's designer, the upholsterer, a supplier."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="contacts")
    name = models.CharField(max_length=120)
    does = models.CharField(max_length=80, blank=True, help_text="what they answer for, such as upholstery")
    reach = models.CharField(max_length=160, blank=True, help_text="a mail address or a telephone number")
    made = models.DateTimeField(auto_now_add=True)
    removed = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return f"{self.name}, {self.does}" if self.does else self.name


class JobSummary(models.Model):
    """What the list of jobs says of one job, kept until something happens that may change it."""

    job = models.OneToOneField(Job, on_delete=models.CASCADE, related_name="summary")
    header = models.JSONField(help_text="the three answers, as front/summary_queries.py reads them")
    sign = models.CharField(
        max_length=200, help_text="how far the shop's books had come when it was worked out"
    )
    until = models.DateTimeField(
        null=True, blank=True, help_text="when it is over by itself: a pot life ends"
    )

    class Meta:
        verbose_name_plural = "job summaries"

    def __str__(self) -> str:
        return f"summary of {self.job}"


class Act(models.Model):
    """One user act in words, with what undoes it (empty where a counter-entry is the only way)."""

    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.CASCADE, related_name="acts")
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    text = models.CharField(max_length=240)
    undo_name = models.CharField(max_length=80, blank=True)
    undo_with = models.JSONField(default=dict, blank=True)
    done = models.DateTimeField(auto_now_add=True)
    undone = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-done", "-id"]

    def __str__(self) -> str:
        return self.text


class Token(models.Model):
    """The token of a form that was acted upon, with the answer: both are written in the transaction of the act."""

    key = models.CharField(max_length=64, primary_key=True)
    claimed = models.DateTimeField(auto_now_add=True)
    answer_status = models.PositiveSmallIntegerField(default=200)
    answer_location = models.TextField(blank=True)

    def __str__(self) -> str:
        return self.key


class RunState(models.TextChoices):
    """Where a run stands; an outcome is never flattened."""

    WAITING = "waiting", "waiting for its turn"
    RUNNING = "running", "at work"
    DONE = "done", "done"
    STOPPED = "stopped", "stopped: the best so far was kept"
    REFUSED = "refused", "cannot be done as asked"
    FAILED = "failed", "failed"
    LOST = "lost", "lost when the server stopped"


LIVE = (RunState.WAITING, RunState.RUNNING)


class Run(models.Model):
    """One long computation of a job."""

    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.CASCADE, related_name="runs")
    kind = models.CharField(max_length=60, help_text="the name of its runner, such as colour.match")
    asked = models.JSONField(default=dict)
    state = models.CharField(max_length=10, choices=RunState.choices, default=RunState.WAITING)
    fraction = models.FloatField(default=0.0)
    message = models.CharField(max_length=240, blank=True)
    best = models.JSONField(null=True, blank=True, help_text="the best so far, in a few words and numbers")
    result = models.JSONField(null=True, blank=True)
    error = models.TextField(blank=True)
    stop_asked = models.BooleanField(default=False)
    worker = models.CharField(
        max_length=120, blank=True, help_text="the process that has it, by machine and number"
    )
    heard = models.DateTimeField(
        null=True, blank=True, help_text="when that process last said that it is alive"
    )
    made = models.DateTimeField(auto_now_add=True)
    started = models.DateTimeField(null=True, blank=True)
    finished = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made", "-id"]

    def __str__(self) -> str:
        return f"{self.kind}: {self.get_state_display()}"

    @property
    def live(self) -> bool:
        """True while it waits or works."""
        return self.state in LIVE

    @property
    def percent(self) -> int:
        """Progress in whole percent, 0..100."""
        return round(100 * min(max(self.fraction, 0.0), 1.0))
