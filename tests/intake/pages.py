"""What tests of the intake pages share: sending a file, pressing a button, reading what a page shows."""

import re
from uuid import uuid4

from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client

from caseload.models import IntakeBatch
from tests.web.posting import held

WRONG = {"nhs_number": "999 000 0019"}
"""A row with this is refused: its check digit is that of another number."""
TWO_WAYS = {
    "surgery_date": "3/4/26", "nhs_number": "999 000 0026", "surname": "Brackley", "first_name": "Desmond",
    "date_of_birth": "1949-11-02", "telephone": "07700 900102",
}  # fmt: skip
"""A row with this is doubtful: its date reads two ways."""


def post_file(client: Client, data: bytes | None, name: str = "march.csv", **typed: str) -> HttpResponse:
    form = {field: text for field, text in held(client.get("/intake/").context["form"]).items() if field != "file"}
    file = {} if data is None else {"file": SimpleUploadedFile(name, data)}
    return client.post("/intake/", form | typed | file)


def press(client: Client, batch: IntakeBatch, what: str, **typed: str) -> HttpResponse:
    sent = {"key": str(uuid4()), "version": str(IntakeBatch.objects.get(pk=batch.pk).version)} | typed
    return client.post(f"/intake/{batch.code}/{what}/", sent, follow=True)


def text_of(client: Client, batch: IntakeBatch, query: str = "") -> str:
    return client.get(f"/intake/{batch.code}/{query}", follow=True).content.decode()


def shown(text: str) -> list[int]:
    """The numbers of the rows on a page."""
    return [int(number) for number in re.findall(r'id="row-(\d+)"', text)]
