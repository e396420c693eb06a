from django.apps import AppConfig


class DemoConfig(AppConfig):
    name = "deploy.demo"
    label = "demo"
