"""Addresses of need and room."""

from django.urls import URLPattern

need: list[URLPattern] = []
