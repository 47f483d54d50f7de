"""Scratch servers for tests: started on demand in a temporary folder, stopped and gone afterwards. Stdlib only."""

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

START_SECONDS = 30
ROOMY = 2**30
"""Bytes that must be free for a folder in memory: a container may have 64 MiB of it."""


def find(program: str) -> str | None:
    """Where a server's program is; Debian keeps PostgreSQL's outside the search path, newest version last."""
    kept_aside = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{program}"), key=lambda path: int(path.parts[4]))
    return shutil.which(program) or (str(kept_aside[-1]) if kept_aside else None)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def postgresql() -> Iterator[str]:
    """A PostgreSQL cluster on a socket in its own folder, without fsync: its URL. Its servers refuse to run as root."""
    initdb, server = find("initdb"), find("postgres")
    assert initdb and server, "PostgreSQL is not installed"
    user = ordinary_user()
    with folder("pg", user) as home:
        data = home / "data"
        made = [initdb, "-D", str(data), "-U", "tests", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync"]
        subprocess.run(made, user=user, cwd=home, check=True, stdout=subprocess.DEVNULL)
        options = ["-F", "-c", "listen_addresses=", "-k", str(home), "-c", "max_connections=50"]
        ready = home / ".s.PGSQL.5432"
        with running([server, "-D", str(data), *options], home, user, ready.exists):
            yield f"postgresql://tests@/postgres?host={home}"


@contextmanager
def redis() -> Iterator[str]:
    """A Redis server on a free port of the loopback address, keeping nothing on disk: its URL."""
    server = find("redis-server")
    assert server, "Redis is not installed"
    port = free_port()
    with folder("redis", None) as home:
        options = ["--port", str(port), "--bind", "127.0.0.1", "--save", "", "--dir", str(home)]
        with running([server, *options], home, None, lambda: listens(port)):
            yield f"redis://127.0.0.1:{port}/0"


@contextmanager
def running(command: list[str], home: Path, user: str | None, ready: Callable[[], bool]) -> Iterator[None]:
    with (home / "log").open("w") as log:
        server = subprocess.Popen(command, user=user, cwd=home, stdout=log, stderr=log, start_new_session=True)
        try:
            limit = time.monotonic() + START_SECONDS
            while not ready():
                if server.poll() is not None or time.monotonic() > limit:
                    raise RuntimeError(f"{command[0]} did not start: {(home / 'log').read_text()}")
                time.sleep(0.05)
            yield
        finally:
            server.terminate()
            stop(server)


def stop(server: subprocess.Popen[bytes]) -> None:
    """PostgreSQL would wait at SIGTERM for its clients to leave; what is left after a moment is killed."""
    try:
        server.wait(5)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()


@contextmanager
def folder(name: str, owner: str | None) -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix=f"caseload-{name}-", ignore_cleanup_errors=True) as made:
        if owner:
            shutil.chown(made, owner)
        yield Path(made)


def in_memory() -> str | None:
    """Where files live in memory, for databases that need not outlive the machine; None is the usual place."""
    return "/dev/shm" if Path("/dev/shm").is_dir() and shutil.disk_usage("/dev/shm").free > ROOMY else None


def ordinary_user() -> str | None:
    """For root, the name of a user with no powers; for anybody else, nobody in particular."""
    if os.geteuid() != 0:
        return None
    names = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in names else "nobody"


def listens(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0
