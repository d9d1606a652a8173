"""The shop itself: its settings, its people, and the devices that were let in."""

from django.db import models


class Shop(models.Model):
    """The one shop this server works for (a single row, key 1)."""

    name = models.CharField(max_length=120, default="The shop")
    units = models.CharField(max_length=8, default="metric", choices=[("metric", "Metric"), ("us", "US")])
    currency = models.CharField(max_length=8, default="$")
    address = models.CharField(
        max_length=200, blank=True, help_text="where the other devices find this server"
    )

    def __str__(self) -> str:
        return self.name


class Person(models.Model):
    """Somebody who works in the shop; pours, signatures and days are theirs."""

    key = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=80)
    active = models.BooleanField(default=True)
    credentials = models.TextField(
        blank=True, help_text="licences, training and their dates, as the shop keeps them"
    )

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Device(models.Model):
    """A browser that came in through a one-time link."""

    name = models.CharField(max_length=80)
    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL)
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
