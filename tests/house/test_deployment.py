"""The examples of fixtures/deployment are files that systemd and nginx take, and they agree with the program."""

import importlib
import os
import re
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from gunicorn.config import make_settings

from caseload.exchange.cells import MAX_BYTES
from caseload.management.children import GRACE_SECONDS
from caseload.management.commands import start

DEPLOYMENT = Path(settings.BASE_DIR) / "fixtures" / "deployment"
UNITS = sorted((DEPLOYMENT / "systemd").glob("*.service"))
PROXY = (DEPLOYMENT / "nginx" / "caseload.conf").read_text()
NGINX = shutil.which("nginx", path=f"{os.environ['PATH']}:/usr/sbin")
OPENSSL = shutil.which("openssl")


@pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="systemd-analyze is not installed")
def test_systemd_takes_every_unit_and_knows_every_word_of_it(tmp_path):
    folder = shutil.copytree(DEPLOYMENT / "systemd", tmp_path / "units")
    for path in [*folder.glob("*.service"), *folder.glob("*/*.conf")]:
        here = path.read_text().replace("/opt/caseload/.venv", sys.prefix).replace("/opt/caseload", "/tmp")
        path.write_text(here)
    names = [str(folder / path.name.replace("@.", "@jobs.")) for path in UNITS]
    told = subprocess.run(["systemd-analyze", "verify", "--man=no", *names], capture_output=True, text=True)
    assert (told.returncode, told.stdout, told.stderr) == (0, "", "")


def test_the_units_run_what_start_runs(settings):
    settings.REDIS_URL = ""
    embedded = start.background()
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    commands = [start.web(8000, False)[:-2], *start.background().values(), *embedded.values()]
    assert {" ".join(command).replace(f"{sys.executable} -m ", "") for command in commands} <= executed()


def executed() -> set[str]:
    """What the units run, the worker for each queue, as `start` would write it."""
    lines = re.findall(r"^ExecStart=/opt/caseload/.venv/bin/(.*)$", "\n".join(map(Path.read_text, UNITS)), re.MULTILINE)
    every = {line.replace("%i", queue).replace("%%h", "%h") for line in lines for queue in ("clock", "notices", "jobs")}
    return {re.sub(r"^python\b", sys.executable, line) for line in every}


def test_every_unit_is_started_again_but_the_one_that_prepares():
    again = {path.stem for path in UNITS if "Restart=always" in path.read_text()}
    assert {path.stem for path in UNITS} - again == {"caseload-prepare"}


def nginx(folder: Path, conf: str) -> Path:
    """The example made whole in a folder: with a certificate of its own, and nothing outside the folder."""
    key = [
        "-newkey",
        "ec",
        "-pkeyopt",
        "ec_paramgen_curve:prime256v1",
        "-nodes",
        "-keyout",
        f"{folder}/key.pem",
        "-subj",
        "/CN=planner.example.org",
    ]
    made = [OPENSSL, "req", "-x509", *key, "-out", f"{folder}/fullchain.pem", "-days", "2"]
    subprocess.run(made, check=True, capture_output=True)
    places = "".join(
        f"{name}_temp_path {folder}/{name};" for name in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    here = conf.replace("/etc/ssl/caseload", str(folder)).replace("/var/log/nginx", str(folder))
    whole = folder / "nginx.conf"
    whole.write_text(
        f"pid {folder}/pid; error_log {folder}/main.log; events {{}} http {{ {places} access_log off; {here} }}"
    )
    return whole


@pytest.mark.skipif(not (NGINX and OPENSSL), reason="nginx or openssl is not installed")
def test_nginx_takes_its_example(tmp_path):
    told = subprocess.run(
        [str(NGINX), "-t", "-p", tmp_path, "-c", nginx(tmp_path, PROXY)], capture_output=True, text=True
    )
    assert told.returncode == 0 and "warn" not in told.stderr, told.stderr


def test_no_log_of_the_proxy_names_an_address():
    (shape,) = re.findall(r"log_format caseload (.*?);", PROXY, re.DOTALL)
    assert not re.search(
        r"\$(request\b|request_uri|uri|document_uri|args|query_string|http_|arg_|cookie_|remote_user)", shape
    )
    assert set(re.findall(r"access_log ([^;]*);", PROXY)) == {"off", "/var/log/nginx/caseload.log caseload"}
    assert re.findall(r"error_log \S+ (\w+);", PROXY) == ["emerg"]


def test_the_proxy_takes_a_list_as_large_as_the_planner_does_and_hides_what_is_for_monitoring():
    (limit,) = re.findall(r"client_max_body_size (\d+)m;", PROXY)
    assert MAX_BYTES < int(limit) * 1024**2 <= 1.2 * MAX_BYTES
    hidden = re.compile(re.findall(r"location ~ (\S+) \{\s*return 404;", PROXY)[0])
    assert all(hidden.search(path) for path in ("/livez", "/readyz", "/metrics"))
    assert not hidden.search("/help/")


def test_the_settings_of_the_example_are_settings_of_the_planner():
    known = set(re.findall(r"^#(\w+)=", (Path(settings.BASE_DIR) / ".env.example").read_text(), re.MULTILINE))
    given = set(re.findall(r"^(\w+)=", (DEPLOYMENT / "env.example").read_text(), re.MULTILINE))
    common = (DEPLOYMENT / "systemd" / "caseload-.service.d" / "common.conf").read_text()
    assert given | set(re.findall(r"(CASELOAD_\w+)=", common)) <= known


@pytest.fixture
def gunicorn(monkeypatch):
    """Its configuration. Reading it sets names of the environment for the processes to come: here, none."""
    monkeypatch.setenv("CASELOAD_DATABASE_POOL", os.environ.get("CASELOAD_DATABASE_POOL", "false"))
    return importlib.import_module("clinic.gunicorn")


def test_gunicorn_knows_every_word_of_its_configuration(gunicorn):
    words = {name for name in vars(gunicorn) if not name.startswith("_")} - {"os", "shutil", "Any", "settings"}
    assert words <= set(make_settings()) and gunicorn.graceful_timeout < GRACE_SECONDS


def test_the_proxy_waits_a_little_longer_than_gunicorn_gives_a_page(gunicorn):
    (seconds,) = re.findall(r"proxy_read_timeout (\d+)s;", PROXY)
    assert gunicorn.timeout < int(seconds) <= gunicorn.timeout + 10


def test_what_was_counted_before_a_start_is_gone_and_the_folder_is_private(gunicorn, settings, tmp_path):
    settings.METRICS_TOKEN, settings.METRICS_FOLDER = "a-long-token", tmp_path / "metrics"
    settings.METRICS_FOLDER.mkdir()
    (settings.METRICS_FOLDER / "counter_1.db").touch()
    gunicorn.on_starting(None)
    assert list(settings.METRICS_FOLDER.iterdir()) == []
    assert stat.S_IMODE(settings.METRICS_FOLDER.stat().st_mode) == 0o700
