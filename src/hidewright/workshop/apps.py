"""The Django app's entry in INSTALLED_APPS."""

from django import forms
from django.apps import AppConfig
from django.core.validators import MaxLengthValidator, MaxValueValidator, MinValueValidator

TOLD: dict[type[forms.Field], dict[str, str]] = {
    forms.Field: {"required": "Fill this in."},
    forms.FileField: {
        "required": "Choose a file first.",
        "empty": "There is nothing in this file. Save it again, and bring it then.",
    },
    forms.ChoiceField: {"required": "Choose one."},
    forms.MultipleChoiceField: {
        "invalid_choice": "“%(value)s” is not one of these any more. Reload the page, then choose."
    },
    forms.DateField: {"invalid": "This is no day. Write it like 2026-03-02, or pick it from the calendar."},
    forms.IntegerField: {"invalid": "Write a whole number, such as 4."},
}
"""What the framework's own fields say, in words that tell what to do."""


class WorkshopConfig(AppConfig):
    """The one app; its rows are in the `models` of each subject."""

    name = "hidewright.workshop"
    label = "workshop"
    verbose_name = "Workshop"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Put the house's words for the framework's own, before the first form is made."""
        for field, words in TOLD.items():
            field.default_error_messages = {**field.default_error_messages, **words}
        MinValueValidator.message = "At least %(limit_value)s."
        MaxValueValidator.message = "At most %(limit_value)s."
        MaxLengthValidator.message = "At most %(limit_value)s letters; these are %(show_value)s."
