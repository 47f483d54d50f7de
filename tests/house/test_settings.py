"""Settings come from the environment through one reader, and a name that nothing reads is refused."""

import re
import runpy
import stat
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as live
from django.core.exceptions import ImproperlyConfigured

from clinic import settings

ROOT = Path(settings.BASE_DIR)


def settings_with(monkeypatch: pytest.MonkeyPatch, folder: Path, **names: str) -> dict[str, Any]:
    """The settings module run afresh with these names in the environment."""
    for name, value in {"CASELOAD_DATA_FOLDER": str(folder), "DATABASE_URL": "", **names}.items():
        monkeypatch.setenv(name, value)
    return runpy.run_path(str(ROOT / "clinic" / "settings.py"))


def test_a_misspelt_name_is_refused_with_the_nearest_known_one(monkeypatch, tmp_path):
    with pytest.raises(
        ImproperlyConfigured, match="CASELOAD_HTPS is not a setting.*nearest known name is CASELOAD_HTTPS"
    ):
        settings_with(monkeypatch, tmp_path, CASELOAD_HTPS="true")


def test_a_name_like_no_other_still_gets_a_sentence():
    with pytest.raises(ImproperlyConfigured, match="The nearest known name is CASELOAD_PORT"):
        settings.refuse_unknown(["CASELOAD_"], ["CASELOAD_PORT", "DATABASE_URL"])


def test_an_unreadable_value_is_refused_by_name(monkeypatch, tmp_path):
    with pytest.raises(ImproperlyConfigured, match="CASELOAD_HTTPS"):
        settings_with(monkeypatch, tmp_path, CASELOAD_HTTPS="perhaps")


def test_the_example_names_every_setting_and_no_other(monkeypatch, tmp_path):
    reader = (ROOT / "clinic" / "settings.py").read_text()
    read = set(re.findall(r'env\.\w+\("(\w+)"', reader))
    described = set(re.findall(r"^#(\w+)=", (ROOT / ".env.example").read_text(), re.MULTILINE))
    assert read == described


def test_debug_is_off_and_the_address_is_loopback_unless_asked_otherwise(monkeypatch, tmp_path):
    embedded = settings_with(monkeypatch, tmp_path)
    assert embedded["DEBUG"] is False
    assert embedded["ALLOWED_HOSTS"] == ["localhost", "127.0.0.1", "[::1]"]


def test_cookies_are_bound_to_the_host_under_tls_and_plain_on_loopback(monkeypatch, tmp_path):
    served = settings_with(monkeypatch, tmp_path, CASELOAD_HTTPS="true")
    assert served["SESSION_COOKIE_NAME"] == "__Host-session" and served["SESSION_COOKIE_SECURE"]
    assert served["CSRF_COOKIE_NAME"] == "__Host-csrf" and served["CSRF_COOKIE_SECURE"]
    embedded = settings_with(monkeypatch, tmp_path, CASELOAD_HTTPS="false")
    assert embedded["SESSION_COOKIE_NAME"] == "session" and not embedded["SESSION_COOKIE_SECURE"]


def test_the_secret_key_is_made_once_and_only_its_owner_reads_it(tmp_path):
    first = settings.kept_secret(tmp_path / "var")
    assert settings.kept_secret(tmp_path / "var") == first
    assert len(first) >= 50
    assert stat.S_IMODE((tmp_path / "var" / "secret_key").stat().st_mode) == 0o600


def test_two_first_starts_at_once_agree_on_the_secret_key(tmp_path):
    with ThreadPoolExecutor(8) as pool:
        keys = set(pool.map(lambda _: settings.kept_secret(tmp_path), range(8)))
    assert len(keys) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["secret_key"]


@pytest.mark.parametrize("url", ["mysql://host/name", "caseload.sqlite3", "postgresql"])
def test_another_kind_of_database_is_refused(url):
    with pytest.raises(ImproperlyConfigured, match="DATABASE_URL must begin with"):
        settings.database(url, pooled=False)


def test_a_database_address_is_taken_apart_and_unquoted():
    found = settings.database("postgresql://a%40b:p%2Fw@db:5433/clinic?sslmode=require", pooled=False)
    assert (found["USER"], found["PASSWORD"], found["HOST"], found["PORT"]) == ("a@b", "p/w", "db", "5433")
    assert found["NAME"] == "clinic" and found["OPTIONS"]["sslmode"] == "require"


def test_a_vanished_database_server_is_noticed_and_the_address_may_say_how_soon():
    found = [settings.database(f"postgresql://db/clinic{query}", True) for query in ("", "?tcp_user_timeout=5000")]
    assert [int(each["OPTIONS"]["tcp_user_timeout"]) for each in found] == [30_000, 5_000]


def test_a_database_server_is_asked_to_notice_when_we_vanish_and_each_connection_is_looked_at():
    found = [settings.database("postgresql://db/clinic", pooled) for pooled in (True, False)]
    assert all("-c tcp_keepalives_idle=10" in each["OPTIONS"]["options"] for each in found)
    assert all("-c jit=off" in each["OPTIONS"]["options"] for each in found)
    assert all(each["CONN_HEALTH_CHECKS"] for each in found)


def test_the_web_pools_connections_and_a_worker_keeps_its_own():
    assert "pool" in settings.database("postgresql:///clinic", pooled=True)["OPTIONS"]
    assert settings.database("postgresql:///clinic", pooled=True)["CONN_MAX_AGE"] == 0
    assert settings.database("postgresql:///clinic", pooled=False)["CONN_MAX_AGE"] is None


def test_an_sqlite_address_is_a_path(tmp_path):
    assert settings.database(f"sqlite:///{tmp_path}/a%20b.sqlite3", pooled=False)["NAME"] == f"{tmp_path}/a b.sqlite3"


def test_pages_need_a_sign_in_by_default():
    assert "django.contrib.auth.middleware.LoginRequiredMiddleware" in live.MIDDLEWARE


def test_a_target_of_nothing_is_none_and_one_that_is_no_number_of_days_is_refused(monkeypatch, tmp_path):
    chosen = settings_with(monkeypatch, tmp_path, CASELOAD_TARGET_FIRST_VISIT="", CASELOAD_TARGET_OFFERED="5")
    assert chosen["WAIT_TARGETS"] == {"first_visit": None, "first_visit_urgent": 7, "offered": 5, "wound_closed": 21}
    with pytest.raises(ImproperlyConfigured, match="CASELOAD_TARGET_OFFERED.*number of days"):
        settings_with(monkeypatch, tmp_path, CASELOAD_TARGET_OFFERED="-1")
