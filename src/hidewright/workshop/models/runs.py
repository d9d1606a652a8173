"""Runs: long computations outside the request, with progress, stop and the best so far."""

from django.db import models

from .jobs import Job


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
