"""The page of a visit used as a person does: look at what would change, then save it as it was shown."""

from typing import Any

from django.http import HttpResponse
from django.test import Client

from tests.web.posting import held, send

ORDINARY = {"d1_stitches_out": "4", "d1_stitches_left": "0", "d1_wound": "closed", "d1_after": "continue"}


def preview(client: Client, address: str, **typed: Any) -> HttpResponse:
    """The first press: the page with what saving would change, or with what is wrong."""
    return send(client, address, **typed)


def record(client: Client, address: str, **typed: Any) -> HttpResponse:
    """Both presses; the answer to the first where it shows nothing that could be saved."""
    shown = preview(client, address, **typed)
    if not shown.context or not shown.context.get("sure"):
        return shown
    return client.post(address, held(shown.context["form"]) | {"sure": shown.context["sure"]})


def said(page: HttpResponse) -> list[str]:
    """What saving would change, as it is told."""
    return [line.text for told in page.context["changes"] for line in told.lines]
