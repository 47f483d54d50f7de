"""Addresses of the waits: what they are, who stands behind a figure, months that were filed, and the report."""

from django.urls import URLPattern

waits: list[URLPattern] = []
