"""The web server's entry. Web threads come and go, so they share a pool of database connections."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")
os.environ.setdefault("CASELOAD_DATABASE_POOL", "true")

application = get_wsgi_application()
