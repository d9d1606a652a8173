"""First calls: what somebody counted on the telephone, and what was said to them."""

from django.db import models

from hidewright.workshop.shop.models import Device, Job


class Call(models.Model):
    """One first call with the answer that was given; `job` once it became one."""

    who = models.CharField(max_length=120)
    reach = models.CharField(max_length=120, blank=True, help_text="telephone or mail, as the caller gave it")
    what = models.CharField(max_length=120, blank=True, help_text="the interior in the caller's words")
    counts = models.JSONField(help_text="kind, as survey/typical.py counts it → how many")
    material = models.CharField(max_length=20, default="leather")
    strip = models.CharField(max_length=8, default="unknown", help_text="yes, no, unknown")
    answer = models.JSONField(help_text="what was said, as it was worked out then")
    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.SET_NULL, related_name="calls")
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"call of {self.who}"
