"""The same headers on whatever is answered: pages, files, static files, redirects and errors, each of which says its
reference and nothing of what happened. What they should say is in OWASP ASVS 5.0.0, V3.4 and V16.5 (from memory)."""

from pathlib import Path

import pytest
from django.core.exceptions import BadRequest, PermissionDenied, RequestDataTooBig
from django.db import OperationalError
from django.http import Http404, HttpResponse
from django.test import Client
from django.urls import get_resolver

from caseload.errors import Refusal
from caseload.web.views.sign_in import too_often

EVERYWHERE = {
    "X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin", "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin",
}  # fmt: skip
INSIDE = "Tarnella Quillworth 9990000018"
FAULTS = [
    (BadRequest(INSIDE), 400), (PermissionDenied(INSIDE), 403), (Http404(INSIDE), 404),
    (Refusal("red-flag-open", "This is the reason."), 409), (RequestDataTooBig(INSIDE), 413), (None, 429),
    (ZeroDivisionError(INSIDE), 500), (OperationalError(INSIDE), 503),
]  # fmt: skip


def holds_all(answer: HttpResponse) -> bool:
    policy = answer.headers["Content-Security-Policy"]
    strict = "default-src 'none'" in policy and "frame-ancestors 'none'" in policy and "unsafe" not in policy
    powers = "camera=()" in answer.headers["Permissions-Policy"]
    open_to = "Access-Control-Allow-Origin" in answer.headers
    return strict and powers and not open_to and {name: answer.headers[name] for name in EVERYWHERE} == EVERYWHERE


@pytest.fixture
def failing(lead, monkeypatch):
    """The page of help, which meets a fault."""
    page = next(each for each in get_resolver().url_patterns[0].url_patterns if each.name == "help")
    lead.raise_request_exception = False

    def ask(fault: Exception | None) -> HttpResponse:
        def fail(request, **_):
            if fault:
                raise fault
            return too_often(request)

        monkeypatch.setattr(page, "callback", fail)
        return lead.get("/help/")

    return ask


@pytest.mark.parametrize(("fault", "status"), FAULTS)
def test_an_error_says_its_reference_and_nothing_of_what_happened(failing, fault, status):
    answer = failing(fault)
    page = answer.content.decode()
    assert answer.status_code == status and holds_all(answer)
    assert (
        f"<kbd>{answer.headers['X-Request-ID']}</kbd>" in page
        and answer.headers["Cache-Control"] == "no-store, private"
    )
    assert not any(word in page for word in (*INSIDE.split(), "Traceback", "Error"))


def test_pages_files_redirects_and_wrong_methods_carry_all_headers_and_are_kept_nowhere(clinic, lead):
    clinic.episode()
    answers = [
        lead.get("/caseload/"), lead.get("/"), lead.put("/help/"), Client().get("/caseload/"),
        lead.post("/overdue/", {"kind": "csv", "key": "a1b2c3d4-0000-4000-8000-000000000001"}),
    ]  # fmt: skip
    assert [answer.status_code for answer in answers] == [200, 302, 405, 302, 200]
    assert answers[-1].headers["Content-Disposition"].startswith("attachment")
    for answer in answers:
        assert holds_all(answer) and "no-store" in answer.headers["Cache-Control"]


@pytest.mark.parametrize("host", ["elsewhere.example.org", "localhost.example.org", "local_host:80:80", "", "@"])
def test_another_host_name_is_refused_and_repeated_nowhere(client, host):
    answer = client.get("/sign-in/", headers={"host": host})
    assert answer.status_code == 400 and holds_all(answer)
    assert not host.strip("@") or host not in answer.content.decode()


def test_static_files_carry_the_same_headers_and_may_be_kept_by_the_browser(settings, tmp_path: Path):
    settings.STATIC_ROOT = tmp_path
    (tmp_path / "own.css").write_text("p {}")
    answer = Client().get("/static/own.css")
    assert answer.status_code == 200 and holds_all(answer)
    assert "public" in answer.headers["Cache-Control"] and "no-store" not in answer.headers["Cache-Control"]
