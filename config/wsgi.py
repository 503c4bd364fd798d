"""The entry point for the application server: ``gunicorn config.wsgi``."""

import os

from django.core.wsgi import get_wsgi_application

from config import memory

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

application = get_wsgi_application()
memory.settle()
