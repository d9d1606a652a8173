"""Quotes as they were given, and what jobs taught, for the next price."""

from django.db import models

from hidewright.workshop.shop.models import Device, Job, Person


class GivenQuote(models.Model):
    """A quote that the customer got: what stood on it, and what the shop expected then. Never changed; taken back at most."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="quotes_given")
    number = models.PositiveSmallIntegerField()
    way = models.CharField(max_length=20, help_text="the way of doing it, by its key")
    name = models.CharField(max_length=80, help_text="the way in words")
    content = models.JSONField(help_text="what stands on the paper, as text")
    takes = models.JSONField(
        default=dict, help_text="hours, days of all hands, mL of colour and clear, and the parts of the price"
    )
    net = models.DecimalField(max_digits=12, decimal_places=2)
    tax_name = models.CharField(max_length=40, blank=True)
    tax_rate = models.DecimalField(max_digits=5, decimal_places=4, default=0, help_text="share, 0..1")
    valid_until = models.DateField()
    likely_on = models.DateField(null=True, blank=True, help_text="ready in five cases of ten")
    sure_on = models.DateField(null=True, blank=True, help_text="ready in nine cases of ten")
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(fields=["job", "number"], name="quote_number_once_a_job"),
        ]

    def __str__(self) -> str:
        return f"quote {self.number}"


class QuoteAcceptance(models.Model):
    """That the customer accepted a quote: who, and on which day. A later one takes its place; it stays on record."""

    quote = models.ForeignKey(GivenQuote, on_delete=models.CASCADE, related_name="acceptances")
    name = models.CharField(max_length=120, help_text="who accepted it")
    day = models.DateField()
    note = models.CharField(max_length=240, blank=True, help_text="how: a letter, an order number")
    person = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.SET_NULL, help_text="who took it down"
    )
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.quote} accepted by {self.name}"


class Lesson(models.Model):
    """What a job taught, in the shop's own words: shown where the next price is made."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="lessons")
    text = models.CharField(max_length=400)
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return self.text
