"""Wiring only: settings, addresses, the web server's entry and Celery. It names the rest by string."""
