from django.apps import AppConfig
from django.core.checks import Tags, register


class StartingConfig(AppConfig):
    name = "deploy.starting"
    label = "starting"

    def ready(self) -> None:
        # Models can be imported only now.
        from deploy.starting.versions import check_age  # noqa: PLC0415

        register(check_age, Tags.database)
