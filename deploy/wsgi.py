"""The application for waitress and gunicorn; the shared settings unless told."""

import os

from deploy.starting.applications import wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.shared")

application = wsgi_application()
