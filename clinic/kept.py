"""The data folder, and the secret key that is kept in it."""

import os
import secrets
import tempfile
from pathlib import Path


def kept_private(folder: Path) -> None:
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)


def kept_secret(folder: Path) -> str:
    """The secret key of this installation: made on the first start, then read. Two first starts at once agree."""
    kept_private(folder)
    kept = folder / "secret_key"
    if not kept.exists():
        handle, fresh = tempfile.mkstemp(dir=folder)  # mkstemp makes the file readable by its owner only
        with os.fdopen(handle, "w") as file:
            file.write(secrets.token_urlsafe(64))
        try:
            os.link(fresh, kept)
        except FileExistsError:
            pass
        finally:
            os.unlink(fresh)
    return kept.read_text().strip()
