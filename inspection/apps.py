from django.apps import AppConfig


class InspectionConfig(AppConfig):
    name = "inspection"
    default_auto_field = "django.db.models.BigAutoField"
