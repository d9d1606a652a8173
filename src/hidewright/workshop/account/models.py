"""What is charged beside the quote, and what came back later."""

from django.db import models
from django.db.models import Q

from hidewright.workshop.inspection.models import Snag
from hidewright.workshop.shop.models import Device, Job, Person


class AccountLine(models.Model):
    """One thing to invoice beside the quote, or (below nothing) to take off."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="account_lines")
    text = models.CharField(max_length=160)
    amount = models.DecimalField(max_digits=12, decimal_places=2, help_text="money before tax")
    snag = models.ForeignKey(
        Snag, null=True, blank=True, on_delete=models.SET_NULL, related_name="account_lines"
    )
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [models.CheckConstraint(condition=~Q(amount=0), name="account_line_has_an_amount")]

    def __str__(self) -> str:
        return self.text


class Claim(models.Model):
    """A claim, or damage that came later, on pieces of one colour; the job in which it is put right is opened with it."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="claims")
    number = models.PositiveSmallIntegerField()
    what = models.CharField(max_length=240)
    whose = models.CharField(max_length=8, default="open", help_text="open, ours, wear, damage")
    reported_by = models.CharField(max_length=120, blank=True)
    day = models.DateField(help_text="when it was reported")
    colour_number = models.PositiveSmallIntegerField(default=0)
    pieces = models.JSONField(default=list, help_text="marks of the pieces")
    touch_up = models.ForeignKey(
        Job,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="claims_put_right",
        help_text="the job in which it is put right",
    )
    settled = models.DateField(null=True, blank=True)
    outcome = models.CharField(max_length=240, blank=True, help_text="how it ended")
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [models.UniqueConstraint(fields=["job", "number"], name="claim_number_once_a_job")]

    def __str__(self) -> str:
        return f"claim {self.number}"
