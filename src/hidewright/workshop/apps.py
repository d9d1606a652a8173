"""The Django app's entry in INSTALLED_APPS."""

from django.apps import AppConfig


class WorkshopConfig(AppConfig):
    """The one app; its models are a file a stage under `models/`."""

    name = "hidewright.workshop"
    label = "workshop"
    verbose_name = "Workshop"
    default_auto_field = "django.db.models.BigAutoField"
