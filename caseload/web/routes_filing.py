"""Addresses of filed months, of the report and of the figures as a file."""

from django.urls import URLPattern

filing: list[URLPattern] = []
