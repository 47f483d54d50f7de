"""Where a button that stands on several pages leads back to."""

from django.http import HttpRequest
from django.utils.http import url_has_allowed_host_and_scheme


def back_of(request: HttpRequest, otherwise: str) -> str:
    """The path that the form or the address names as `back`, if it is one of ours; else `otherwise`."""
    back = request.POST.get("back") or request.GET.get("back") or ""
    own = back.startswith("/") and url_has_allowed_host_and_scheme(back, None)
    return back if own else otherwise
