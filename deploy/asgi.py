"""The application for an asynchronous server; the shared settings unless told."""

import os

from deploy.starting.applications import asgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.shared")

application = asgi_application()
