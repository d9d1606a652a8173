"""The shop's how-to cards with their pictures, its checklists, and who went through them when."""

from django.db import models

from hidewright.workshop.shop.models import Device, Person


class Card(models.Model):
    """How the shop does one step, or works on one kind of piece. Taken away rather than erased."""

    title = models.CharField(max_length=80)
    step = models.CharField(
        max_length=20, blank=True, help_text="a kind of work, as the planner names it; empty: every step"
    )
    words = models.CharField(
        max_length=120,
        blank=True,
        help_text="words of a piece's name or group, with commas; empty: every piece",
    )
    cover = models.CharField(max_length=400, blank=True, help_text="what to cover")
    tape = models.CharField(max_length=200, blank=True)
    grit = models.CharField(max_length=200, blank=True)
    cloth = models.CharField(max_length=200, blank=True, help_text="how damp")
    notes = models.TextField(blank=True)
    version = models.PositiveIntegerField(default=0)
    made = models.DateTimeField(auto_now_add=True)
    removed = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["title", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["title"], condition=models.Q(removed=None), name="card_title_once"
            ),
        ]

    def __str__(self) -> str:
        return self.title


class CardPicture(models.Model):
    """A picture of a card."""

    card = models.ForeignKey(Card, on_delete=models.CASCADE, related_name="pictures")
    picture = models.CharField(max_length=120, help_text="file name under the pictures")
    caption = models.CharField(max_length=120, blank=True)
    made = models.DateTimeField(auto_now_add=True)
    removed = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.caption or self.picture


class When(models.TextChoices):
    """When a checklist is gone through."""

    WEEKLY = "weekly", "every week"
    SPRAYING = "spraying", "before spraying"
    ALWAYS = "always", "always: a rule to keep in mind"


class Checklist(models.Model):
    """A list of the shop that is gone through again and again."""

    title = models.CharField(max_length=80)
    when = models.CharField(max_length=8, choices=When.choices, default=When.WEEKLY)
    items = models.JSONField(default=list, help_text="its lines in order")
    version = models.PositiveIntegerField(default=0)
    made = models.DateTimeField(auto_now_add=True)
    removed = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["title"], condition=models.Q(removed=None), name="checklist_title_once"
            ),
        ]

    def __str__(self) -> str:
        return self.title


class ChecklistRound(models.Model):
    """That somebody went through a list: which lines were in order, and what was not. Only added; taken back when it was a slip."""

    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="rounds")
    lines = models.JSONField(help_text="each line as it read then, with whether it was in order")
    note = models.CharField(max_length=240, blank=True)
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
    device = models.ForeignKey(Device, null=True, blank=True, on_delete=models.SET_NULL)
    made = models.DateTimeField(auto_now_add=True)
    withdrawn = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.checklist}, {self.made:%Y-%m-%d}"
