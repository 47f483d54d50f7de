"""The web server's entry. Web threads come and go, so they share a pool of database connections."""

import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")
os.environ.setdefault("CASELOAD_DATABASE_POOL", "true")

application = get_wsgi_application()
# Every page is loaded now: the first is answered as fast as the next, and a fault in one is seen at the start.
get_resolver().url_patterns  # noqa: B018
