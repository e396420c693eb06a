from django.apps import AppConfig


class KeepingConfig(AppConfig):
    name = "deploy.keeping"
    label = "keeping"
