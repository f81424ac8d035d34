"""Django's entry for the programme's rows."""

from django.apps import AppConfig


class ProgrammeConfig(AppConfig):
    """Registers the models under the short label ``programme``."""

    name = "standlight.programme"
    label = "programme"
    default_auto_field = "django.db.models.BigAutoField"
