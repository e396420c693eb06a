"""The application for an asynchronous server; the shared settings unless told."""

import os

from django.core.asgi import get_asgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.shared")

application = get_asgi_application()
