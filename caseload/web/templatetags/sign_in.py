"""Words of the pages of signing in."""

from django import template
from django.conf import settings

from caseload.wording.browsers import say_browser

register = template.Library()
register.filter("browser", say_browser)


@register.simple_tag
def idle_minutes() -> int:
    """Minutes without a request after which a page is left."""
    return int(settings.IDLE_MINUTES)
