"""From where a request comes."""

from django.conf import settings
from django.http import HttpRequest


def origin_of(request: HttpRequest) -> str:
    """The network address of whoever asks; behind the proxy that ends TLS, the one that the proxy itself added last."""
    beyond = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip() if settings.HTTPS else ""
    return (beyond or request.META.get("REMOTE_ADDR", ""))[:60]
