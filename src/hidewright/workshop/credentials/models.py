"""Credentials and certificates as they are kept, and which rules a job goes by."""

from django.db import models

from hidewright.workshop.shop.models import Job, Person


class Credential(models.Model):
    """A training, clearance, report, certificate or data sheet. A wrong one is struck out with a reason, never erased.

    It belongs to a person, to a job, or (with neither) to the shop.
    """

    kind = models.CharField(max_length=20, help_text="as safety/rule_sets.py names it")
    title = models.CharField(max_length=120)
    number = models.CharField(max_length=80, blank=True)
    issuer = models.CharField(max_length=120, blank=True, help_text="who gave it")
    person = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="papers_held"
    )
    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.CASCADE, related_name="credentials")
    product = models.CharField(max_length=60, blank=True, help_text="the key of the product it is about")
    issued = models.DateField(null=True, blank=True)
    expires = models.DateField(null=True, blank=True)
    file = models.CharField(max_length=120, blank=True, help_text="file name under the pictures")
    note = models.CharField(max_length=240, blank=True)
    made = models.DateTimeField(auto_now_add=True)
    struck = models.DateTimeField(null=True, blank=True)
    why_struck = models.CharField(max_length=240, blank=True)

    class Meta:
        ordering = ["expires", "id"]

    def __str__(self) -> str:
        return self.title


class JobRules(models.Model):
    """Which set of rules a job goes by."""

    job = models.OneToOneField(Job, on_delete=models.CASCADE, related_name="rules")
    rule_set = models.CharField(max_length=12, help_text="a key of safety/rule_sets.py")

    class Meta:
        verbose_name_plural = "job rules"

    def __str__(self) -> str:
        return f"{self.job}: {self.rule_set}"
