"""Inspection: checks of finished pieces, certificates of burn tests, and signatures. Entries are only ever added."""

from django.db import models

from hidewright.workshop.colours.models import ColourVersion
from hidewright.workshop.days.models import Redo
from hidewright.workshop.shop.models import Contact, Device, Job, Person


class CheckEntry(models.Model):
    """One check of one piece, as somebody made it. A wrong entry is struck out by a counter-entry (`strikes`)."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="checks")
    piece = models.CharField(max_length=120, help_text="the piece's code")
    kind = models.CharField(max_length=20, help_text="which check; see inspection/queries.py")
    value = models.CharField(max_length=60, help_text="what was found")
    result = models.CharField(
        max_length=8,
        choices=[("good", "good"), ("again", "to be done again"), ("noted", "noted")],
        default="noted",
    )
    note = models.CharField(max_length=240, blank=True)
    way = models.CharField(
        max_length=12, blank=True, help_text="how a colour was compared: eye, photo or instrument"
    )
    version = models.ForeignKey(
        ColourVersion,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="checks",
        help_text="the agreed version that a colour was compared with",
    )
    strikes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="struck_by"
    )
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "check entries"
        indexes = [models.Index(fields=["job", "piece"])]

    def __str__(self) -> str:
        return f"{self.piece}: {self.kind} {self.value}"


class HiddenPart(models.Model):
    """A part of a piece that shows in another position only, such as the underside of a flap: a row of its own in the inspection."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="hidden_parts")
    piece = models.CharField(max_length=40, help_text="the mark of the piece")
    part = models.CharField(max_length=60, help_text="what shows, such as the underside")
    position = models.CharField(max_length=80, help_text="when it shows, such as with the flap up")
    made = models.DateTimeField(auto_now_add=True)
    removed = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["job", "piece", "part"],
                condition=models.Q(removed=None),
                name="hidden_part_once_a_piece",
            ),
        ]

    def __str__(self) -> str:
        return self.mark

    @property
    def mark(self) -> str:
        """How it is called in checks."""
        return f"{self.piece} / {self.part}"


class BurnRecord(models.Model):
    """A burn-test certificate kept and compared with its figures; a licensed or authorised person judges."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="burn_records")
    test = models.CharField(max_length=20, help_text="which test; see inspection/queries.py")
    specimen = models.CharField(max_length=160, help_text="what was tested: leather, coats, products")
    certificate = models.CharField(max_length=120, help_text="number of the certificate")
    house = models.CharField(max_length=120, blank=True, help_text="test house")
    tested = models.DateField(null=True, blank=True)
    figures = models.JSONField(default=dict, help_text="figure → list of numbers, one a specimen")
    note = models.CharField(max_length=240, blank=True)
    strikes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="struck_by"
    )
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.PROTECT)
    made = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.test} {self.certificate}"


class Signature(models.Model):
    """That a person looked and signs. A signature is struck out by a counter-entry with a reason, never erased."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="signatures")
    person = models.ForeignKey(Person, on_delete=models.PROTECT)
    words = models.CharField(max_length=240, help_text="what is signed for")
    covers = models.JSONField(default=dict, help_text="how things stood when it was signed")
    final = models.BooleanField(default=False, help_text="the final sign-off of the job")
    strikes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="struck_by"
    )
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.person}: {self.words}"


class SnagKind(models.TextChoices):
    """What was found."""

    DAMAGE = "damage", "damage"
    MISSING_PIECE = "missing", "missing piece"
    MISSING_PLACARD = "placard", "missing or unreadable placard"
    COLOUR = "colour", "colour is off"
    OTHER = "other", "something else"


class Decision(models.TextChoices):
    """What is to be done about it."""

    OPEN = "", "not decided yet"
    REPAIR = "repair", "repair"
    REPLACE = "replace", "replace"
    ASK = "ask", "ask the client"
    WAIT = "wait", "wait"
    LEAVE = "leave", "leave as it is"


class Weight(models.TextChoices):
    """What a snag holds up."""

    BLOCKS = "blocks", "blocks"
    LATER = "later", "touch up later"


class Stage(models.TextChoices):
    """How far it has come with whoever must act."""

    NONE = "", "nobody was asked"
    ASKED = "asked", "asked"
    ORDERED = "ordered", "ordered"
    ARRIVED = "arrived", "arrived"


class Snag(models.Model):
    """One snag. Its entries tell its story; the columns `decision` and `closed` hold how it stands now."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="snags")
    what = models.CharField(max_length=240)
    kind = models.CharField(max_length=10, choices=SnagKind.choices, default=SnagKind.DAMAGE)
    piece = models.CharField(max_length=120, blank=True, help_text="the piece's code or where it was")
    tap = models.CharField(max_length=64, blank=True, help_text="the tap of the page Days that raised it")
    picture = models.CharField(max_length=120, blank=True, help_text="file name under the pictures")
    decision = models.CharField(max_length=8, choices=Decision.choices, blank=True, default="")
    weight = models.CharField(max_length=6, choices=Weight.choices, default=Weight.BLOCKS)
    acts = models.ForeignKey(
        Contact,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="snags",
        help_text="who must act",
    )
    stage = models.CharField(max_length=8, choices=Stage.choices, blank=True, default="")
    expected = models.DateField(null=True, blank=True, help_text="when an answer or a part should be there")
    touch_up = models.ForeignKey(
        Redo,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="snags",
        help_text="the work of the touch-up session that takes it in",
    )
    repair = models.ForeignKey(
        Redo,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="repaired",
        help_text="the work by which it is repaired",
    )
    found = models.DateTimeField(auto_now_add=True)
    closed = models.DateTimeField(null=True, blank=True)
    withdrawn = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-found", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["tap"], condition=~models.Q(tap=""), name="snag_once_for_each_tap"
            ),
        ]

    def __str__(self) -> str:
        return self.what


class SnagEntry(models.Model):
    """One line of a snag's story: found, decided, a note, closed, opened again. Only ever added."""

    snag = models.ForeignKey(Snag, on_delete=models.CASCADE, related_name="entries")
    text = models.CharField(max_length=400)
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "snag entries"

    def __str__(self) -> str:
        return self.text
