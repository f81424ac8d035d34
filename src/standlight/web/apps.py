"""Django's entry for the pages."""

from django.apps import AppConfig


class WebConfig(AppConfig):
    """Registers templates, static files and template words."""

    name = "standlight.web"
    label = "web"
