"""Response headers that Django and django-csp do not set."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

# Nothing here uses these powers of the browser, so no page and nothing shown in one may ask for them.
POWERS = ("camera", "display-capture", "geolocation", "microphone", "midi", "payment", "usb", "screen-wake-lock")
PERMISSIONS = ", ".join(f"{power}=()" for power in POWERS)

Answer = Callable[[HttpRequest], HttpResponse]


def quiet_headers(answer: Answer) -> Answer:
    """Keep pages out of every cache (static files say themselves how long they last), switch off unused powers of the
    browser, and let no other site show anything of this one."""

    def add_headers(request: HttpRequest) -> HttpResponse:
        response = answer(request)
        response.headers.setdefault("Cache-Control", "no-store, private")
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        return response

    return add_headers
