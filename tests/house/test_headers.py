"""Headers of every answer, on a page that anybody may open."""

import pytest

from caseload.checks import addresses_need_tls


@pytest.fixture
def answer(client):
    return client.get("/livez")


def test_the_content_policy_allows_only_our_own_files_and_nothing_inline(answer):
    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy and "frame-ancestors 'none'" in policy and "base-uri 'none'" in policy
    assert "unsafe" not in policy and "data:" not in policy and "*" not in policy


@pytest.mark.parametrize(
    ("header", "value"),
    [
        ("Cache-Control", "no-store, private"),
        ("Referrer-Policy", "same-origin"),
        ("Cross-Origin-Opener-Policy", "same-origin"),
        ("X-Content-Type-Options", "nosniff"),
        ("X-Frame-Options", "DENY"),
    ],
)
def test_each_answer_carries(answer, header, value):
    assert answer.headers[header] == value


def test_the_powers_of_the_browser_are_off(answer):
    assert "camera=()" in answer.headers["Permissions-Policy"]


def test_under_tls_a_plain_request_is_sent_on_but_a_health_probe_is_answered(client, settings):
    settings.SECURE_SSL_REDIRECT = True
    assert client.get("/").status_code == 301
    assert client.get("/livez").status_code == 200


@pytest.mark.parametrize(
    ("hosts", "https", "ids"),
    [
        (["localhost", "127.0.0.1", "[::1]"], False, []),
        (["localhost", "planner.example.org"], False, ["caseload.E002"]),
        (["*"], False, ["caseload.E002"]),
        (["planner.example.org"], True, []),
    ],
)
def test_an_address_that_others_reach_needs_tls(settings, hosts, https, ids):
    settings.ALLOWED_HOSTS, settings.HTTPS = hosts, https
    assert [message.id for message in addresses_need_tls()] == ids
