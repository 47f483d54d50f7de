"""Notices in templates: how far each is as a shape and a word, and what was in its way."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from caseload.booking.notices import Channel, NoticeKind
from caseload.models import Notice, NoticeState
from caseload.web import marks
from caseload.wording import label, notices

register = template.Library()
register.filter("since", notices.say_when)
register.filter("news_sent", notices.say_news_sent)
SHAPES = {
    NoticeState.WAITING: "ring", NoticeState.SENT: "tick", NoticeState.FAILED: "tri", NoticeState.WITHDRAWN: "dash",
}  # fmt: skip


@register.filter
def how_far(notice: Notice) -> SafeString:
    """Its state as shape and word."""
    printed = notice.state == NoticeState.WAITING and notice.batch_id
    drawn = marks.shape("box" if printed else SHAPES[NoticeState(notice.state)])
    return format_html("{}{}", mark_safe(drawn), notices.say_state(notice))


@register.filter
def kind(notice: Notice) -> str:
    return label(NoticeKind(notice.kind))


@register.filter
def channel(notice: Notice) -> str:
    return label(Channel(notice.channel))


@register.filter
def hindrance(notice: Notice) -> str:
    return notices.say_error(notice.error)
