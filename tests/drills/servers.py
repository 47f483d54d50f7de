"""PostgreSQL and Redis as members of a drill: killed and started again on the same data, stopped, frozen, flushed.

PostgreSQL writes through to the disk (fsync) as it would in use.
"""

import os
import shutil
import signal
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import psycopg

from tests import scratch
from tests.drills.members import Member, Supervisor, listens, wait_for

TMPFS_MB = 640
USER = scratch.ordinary_user()
PG_PORT = 5432


@dataclass
class Database:
    """`net` is the beginning of the addresses of the two hosts, where there are any; this machine is .1 in it."""

    member: Member
    home: Path
    net: str

    @property
    def url(self) -> str:
        return f"postgresql://tests@/postgres?host={self.home}"

    @property
    def url_on_the_net(self) -> str:
        return f"postgresql://tests@{self.net}.1:{PG_PORT}/postgres"

    def answers(self) -> bool:
        try:
            with psycopg.connect(self.url, connect_timeout=2) as connection:
                connection.execute("SELECT 1")
            return True
        except psycopg.Error:
            return False

    def use_up_its_room(self) -> None:
        """PostgreSQL has some room aside for its log: write into that until there is none, when it gives up."""
        with suppress(psycopg.Error), psycopg.connect(self.url, autocommit=True) as admin:
            for _ in range(256):
                admin.execute("SELECT pg_logical_emit_message(true, 'drill', repeat('x', 1000000))")

    def read_only(self, on: bool) -> None:
        """Everybody may only read, and is connected anew so that it holds for them."""
        with psycopg.connect(self.url, autocommit=True) as admin:
            admin.execute("SET default_transaction_read_only = off")
            admin.execute(f"ALTER DATABASE postgres SET default_transaction_read_only = {'on' if on else 'off'}")
            others = "datname = 'postgres' AND pid <> pg_backend_pid() AND backend_type = 'client backend'"
            admin.execute(f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE {others}")


def postgresql(home: Path, keeper: Supervisor, net: str) -> Database:
    """A cluster in `home`, on a socket there and, for the two hosts, on their network."""
    initdb, server = scratch.find("initdb"), scratch.find("postgres")
    assert initdb and server, "PostgreSQL is not installed"
    data = home / "data"
    made = [initdb, "-D", str(data), "-U", "tests", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync"]
    subprocess.run(made, user=USER, cwd=home, check=True, stdout=subprocess.DEVNULL)
    if net:
        with (data / "pg_hba.conf").open("a") as allowed:
            allowed.write(f"host all all {net}.0/24 trust\n")
    options = ["-c", f"listen_addresses={net}.1" if net else "listen_addresses=", "-k", str(home)]
    options += ["-c", "max_connections=80", "-c", "min_wal_size=32MB", "-c", "max_wal_size=128MB"]
    member = Member("database", [server, "-D", str(data), *options], home, os.environ, USER)
    database = Database(keeper.add(member), home, net)
    wait_for(database.answers, "PostgreSQL answers")
    return database


@dataclass
class Broker:
    member: Member
    port: int
    keeper: Supervisor
    net: str

    @property
    def url(self) -> str:
        return f"redis://127.0.0.1:{self.port}/0"

    @property
    def url_on_the_net(self) -> str:
        return f"redis://{self.net}.1:{self.port}/0"

    def stop(self) -> None:
        self.keeper.hold(["redis"])

    def start(self) -> None:
        self.keeper.release(["redis"])
        wait_for(lambda: listens("127.0.0.1", self.port), "Redis listens")

    def hang(self) -> None:
        """It accepts connections, and never answers."""
        self.member.signal(signal.SIGSTOP)

    def wake(self) -> None:
        self.member.signal(signal.SIGCONT)

    def flush(self) -> None:
        import redis

        redis.Redis(port=self.port, socket_timeout=5).flushall()


def redis(home: Path, keeper: Supervisor, net: str) -> Broker:
    server, port = scratch.find("redis-server"), scratch.free_port()
    assert server, "Redis is not installed"
    bound = ["--bind", "127.0.0.1", *([f"{net}.1"] if net else [])]
    options = ["--port", str(port), *bound, "--protected-mode", "no", "--save", "", "--dir", str(home)]
    broker = Broker(keeper.add(Member("redis", [server, *options], home, os.environ)), port, keeper, net)
    wait_for(lambda: listens("127.0.0.1", port), "Redis listens")
    return broker


@dataclass
class Disk:
    """A folder with a size of its own, which can be filled and made read-only."""

    folder: Path

    def fill(self) -> None:
        with (self.folder / "filler").open("wb", buffering=0) as filler:
            try:
                while True:
                    filler.write(bytes(4096) * 16)
            except OSError:
                pass
        with (self.folder / "filler").open("ab", buffering=0) as filler:
            try:
                while True:
                    filler.write(bytes(4096))
            except OSError:
                pass

    def free(self) -> None:
        (self.folder / "filler").unlink(missing_ok=True)

    def read_only(self, on: bool) -> bool:
        """Whether the change was possible just now: not while somebody has a file open to write into it."""
        how = f"remount,{'ro' if on else 'rw'}"
        return subprocess.run(["mount", "-o", how, str(self.folder)], capture_output=True).returncode == 0


@contextmanager
def small_disk(megabytes: int, owner: str | None) -> Iterator[Disk | None]:
    """A disk of that size; None for those who may not mount one."""
    with scratch.folder("disk", None) as folder:
        mount = ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", str(folder)]
        if os.geteuid() != 0 or subprocess.run(mount, capture_output=True).returncode:
            yield None
            return
        try:
            if owner:
                shutil.chown(folder, owner)
            folder.chmod(0o755 if owner is None else 0o700)
            yield Disk(folder)
        finally:
            subprocess.run(["umount", "--lazy", str(folder)], capture_output=True)
