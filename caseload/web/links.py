"""Addresses of records for rows that are joined as strings: resolved once, not for each row."""

from functools import cache

from django.urls import reverse


@cache
def _around(name: str) -> tuple[str, str]:
    before, after = reverse(name, args=["CODE"]).split("CODE")
    return before, after


@cache
def address(name: str) -> str:
    """The address of a page that takes no code."""
    return reverse(name)


def href(name: str, code: str) -> str:
    before, after = _around(name)
    return f"{before}{code}{after}"


def episode_href(code: str) -> str:
    return href("episode", code)


def patient_href(code: str) -> str:
    return href("patient", code)
