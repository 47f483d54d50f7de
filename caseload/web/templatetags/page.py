"""What templates need beside the values of their view: navigation, dates and states in words, the key of a form."""

import re
from datetime import date
from typing import Any
from uuid import uuid4

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from structlog.contextvars import get_contextvars

from caseload.models import Draft, Staff
from caseload.timetable.rule import When
from caseload.timetable.terms import Lock
from caseload.web import dayline, drafts, marks, nav
from caseload.wording import label, note, say_date
from caseload.wording.speech import speech

register = template.Library()
register.filter("words", label)
register.filter("marked", marks.marked)
register.filter("whole", marks.whole)
register.filter("note_words", note)
COUNTED = re.compile(r"(?<=\d) (?=\d|[^\W\d_]{3})")


@register.simple_tag(takes_context=True)
def entries(context: dict[str, Any]) -> list[nav.Place]:
    """The pages that this person sees named at the top."""
    return nav.places(context["request"])


@register.simple_tag
def reference() -> str:
    """The name of this request, under which the log has its line; nothing outside of a request."""
    return str(get_contextvars().get("request", ""))


@register.simple_tag
def form_key() -> SafeString:
    """A fresh idempotency key: a form that is sent twice is carried out once."""
    return format_html('<input type="hidden" name="key" value="{}">', uuid4())


@register.simple_tag(takes_context=True)
def ours(context: dict[str, Any]) -> SafeString:
    """A seal of who opened this form: what is sent under it after the time-out is kept."""
    return format_html('<input type="hidden" name="{}" value="{}">', drafts.SEAL, drafts.seal(context["request"]))


@register.simple_tag(takes_context=True)
def typed_elsewhere(context: dict[str, Any]) -> list[Draft]:
    """Drafts for the same page with more added to its address."""
    return drafts.typed_elsewhere(context["request"])


@register.filter
def unbroken(html: str) -> SafeString:
    """A number stays whole and on the line of what it counts, for what is read slowly: “01632 960100”, “4 December”."""
    return mark_safe(COUNTED.sub("\N{NO-BREAK SPACE}", html))


@register.filter
def roles(staff: Staff) -> str:
    return ", ".join(sorted(label(role) for role in staff.roles))


@register.filter
def say(on: date | None) -> str:
    """A date in words that does not break, or an empty text. In a title or an attribute: `|say|striptags`."""
    return marks.whole(say_date(on)) if on else ""


@register.filter
def headline(word: str) -> SafeString:
    """A headline as shape and word; empty is in hand."""
    return mark_safe(marks.headline(word, speech()))


@register.filter
def applies(when: When) -> str:
    """Whom a rule is for, in words."""
    said = [" or ".join(map(label, words)) for words in (when.suture, when.technique) if words]
    if when.raised_risk is not None:
        said.append("raised risk" if when.raised_risk else "no raised risk")
    if when.therapy_referral is not None:
        said.append("referred for therapy" if when.therapy_referral else "not referred for therapy")
    return ", ".join(said) or "everybody"


@register.filter
def gate_name(lock: Lock) -> str:
    return dayline.GATES[lock]
