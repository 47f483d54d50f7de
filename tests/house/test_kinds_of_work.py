"""Every process that has started Django knows every kind of long work, whatever else it has imported."""

import os
import re
import subprocess
import sys
from pathlib import Path

import caseload

ASKED = "import django; django.setup(); from caseload.actions.jobs import KINDS; print(len(KINDS))"
REGISTERED = re.compile(r"^@(?:jobs\.)?kind\(", re.MULTILINE)


def test_every_kind_is_known_as_soon_as_django_is(tmp_path: Path) -> None:
    """A worker that did not know one would claim its jobs and fail, again and again."""
    package = Path(caseload.__file__).parent
    wanted = sum(len(REGISTERED.findall(each.read_text())) for each in package.rglob("*.py"))
    told = os.environ | {"DJANGO_SETTINGS_MODULE": "clinic.settings", "CASELOAD_DATA_FOLDER": str(tmp_path)}
    told |= {"DATABASE_URL": f"sqlite:///{tmp_path}/none.sqlite3"}
    known = subprocess.run(
        [sys.executable, "-c", ASKED], cwd=package.parent, env=told, check=True, capture_output=True, text=True
    )
    assert wanted and int(known.stdout) == wanted
