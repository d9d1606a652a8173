"""Inspection: checks of finished pieces, certificates of burn tests, and signatures. Entries are only ever added."""

from django.db import models

from .jobs import Job
from .shop import Device, Person


class CheckEntry(models.Model):
    """One check of one piece, as somebody made it. A wrong entry is struck out by a counter-entry (`strikes`)."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="checks")
    piece = models.CharField(max_length=120, help_text="the piece's code")
    kind = models.CharField(max_length=20, help_text="which check; see gather/inspection.py")
    value = models.CharField(max_length=60, help_text="what was found")
    result = models.CharField(
        max_length=8,
        choices=[("good", "good"), ("again", "to be done again"), ("noted", "noted")],
        default="noted",
    )
    note = models.CharField(max_length=240, blank=True)
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


class BurnRecord(models.Model):
    """A burn-test certificate kept and compared with its figures; a licensed or authorised person judges."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="burn_records")
    test = models.CharField(max_length=20, help_text="which test; see gather/inspection.py")
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
    strikes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="struck_by"
    )
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.person}: {self.words}"
