"""A page as it is read: a date that does not break at the end of a line reads like any other."""

import re

from django.http import HttpResponse

KEPT = re.compile(r'<span class="nowrap">([^<]*)</span>')


def read(answer: HttpResponse) -> str:
    return KEPT.sub(r"\1", answer.content.decode())


def said(answer: HttpResponse) -> str:
    """The same in one line, whatever white space the template has."""
    return " ".join(read(answer).split())
