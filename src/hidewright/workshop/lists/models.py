"""Lists that were brought, and what the shop said about their headings and words."""

from django.db import models

from hidewright.workshop.shop.models import Job


class BroughtList(models.Model):
    """A list that was brought: looked at and mended first, taken (or not) afterwards."""

    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.CASCADE, related_name="lists")
    kind = models.CharField(max_length=40, help_text="which list it is, such as pieces")
    name = models.CharField(max_length=120)
    grid = models.JSONField(help_text="its cells as they were written, by line")
    answers = models.JSONField(default=dict, blank=True, help_text="what a person said about it")
    made = models.DateTimeField(auto_now_add=True)
    taken = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made", "-id"]

    def __str__(self) -> str:
        return self.name


class ListWord(models.Model):
    """What the shop means by a heading (place “heading”) or by a word in a column (place: the column's meaning), for lists of one kind."""

    kind = models.CharField(max_length=40)
    place = models.CharField(max_length=40)
    word = models.CharField(max_length=200)
    value = models.CharField(max_length=80)

    class Meta:
        ordering = ["kind", "place", "word"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "place", "word"], name="a_word_means_one_thing")
        ]

    def __str__(self) -> str:
        return f"{self.word}: {self.value}"
