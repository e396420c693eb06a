"""The application for waitress and gunicorn; the shared settings unless told."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.shared")

application = get_wsgi_application()
