"""Two worker hosts, each in a network namespace of its own, at one PostgreSQL and one Redis; a cable that is pulled."""

import os
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from tests import scratch
from tests.drills.hooked import JOB
from tests.drills.load import BETWEEN
from tests.drills.members import wait_for
from tests.drills.stage import Stage, ask_for_a_job, asked

HOSTS = ("one", "two")
JOBS_AT_ONCE = 10
POST_PORT = 2525


@dataclass
class Network:
    """A bridge with the machine of the drill at .1, and a namespace for each host."""

    number: int

    @property
    def prefix(self) -> str:
        return f"10.211.{self.number % 250}"

    @property
    def bridge(self) -> str:
        return f"drill{self.number}"

    def namespace(self, host: str) -> str:
        return f"{self.bridge}-{host}"

    def make(self) -> None:
        run("link", "add", self.bridge, "type", "bridge")
        run("addr", "add", f"{self.prefix}.1/24", "dev", self.bridge)
        run("link", "set", self.bridge, "up")
        for number, host in enumerate(HOSTS, 11):
            there, ours = self.namespace(host), f"{self.bridge}{host[0]}"
            run("netns", "add", there)
            run("link", "add", ours, "type", "veth", "peer", "name", "eth0", "netns", there)
            run("link", "set", ours, "master", self.bridge, "up")
            run("-n", there, "addr", "add", f"{self.prefix}.{number}/24", "dev", "eth0")
            run("-n", there, "link", "set", "lo", "up")
            run("-n", there, "link", "set", "eth0", "up")

    def cable(self, host: str, plugged: bool) -> None:
        run("link", "set", f"{self.bridge}{host[0]}", "up" if plugged else "down")

    def take_away(self) -> None:
        for host in HOSTS:
            run("netns", "del", self.namespace(host), check=False)
        run("link", "del", self.bridge, check=False)


def run(*command: str, check: bool = True) -> None:
    subprocess.run([scratch.find("ip") or "ip", *command], check=check, capture_output=True)


@contextmanager
def network() -> Iterator[Network | None]:
    """None for those who may not make one, or where `ip` is missing."""
    made = Network(os.getpid() % 10_000)
    if os.geteuid() != 0 or not scratch.find("ip"):
        yield None
        return
    try:
        try:
            made.make()
        except subprocess.CalledProcessError:
            yield None
            return
        yield made
    finally:
        made.take_away()


def hosts(there: Stage, seconds: float) -> None:
    """Both work; then the cable of one is pulled in the middle of its jobs, and put back when the other is done."""
    net = there.network
    if net is None:
        there.remarks.append("!!! two hosts: NOT DRILLED, network namespaces can only be made by root")
        return
    ours = ["clock", "notices", "jobs"]
    there.keeper.hold(ours)
    try:
        pulled(there, net, seconds)
    except TimeoutError as error:
        said = {host: there.keeper.members[f"host {host}"].text()[-400:] for host in HOSTS}
        raise TimeoutError(f"{error}; alive: {asked(alive)}; the hosts said: {said}") from error
    finally:
        there.keeper.hold([name for name in there.keeper.members if name.startswith("host ")])
        there.keeper.release(ours)
    there.heal()
    told(there)


def pulled(there: Stage, net: Network, seconds: float) -> None:
    for host in HOSTS:
        host_of(there, net, host)
    wait_for(lambda: asked(lambda: alive() >= {*HOSTS}), "both hosts show that they are alive")
    there.phase("two hosts", seconds / 2)
    for _ in range(JOBS_AT_ONCE):
        asked(ask_for_a_job)
    wait_for(lambda: "two" in asked(busy), "host two has a job in hand")
    net.cable("two", plugged=False)
    there.phase("cable pulled", seconds / 2)
    there.drain("cable pulled", 60 + 2 * (there.claim_seconds or 120))
    net.cable("two", plugged=True)
    there.phase("cable back", min(seconds / 2, 30))
    there.phase(BETWEEN)
    there.drain("cable back", 60 + (there.claim_seconds or 120))


def host_of(there: Stage, net: Network, host: str) -> None:
    """A mail server and a worker for everything, inside the namespace."""
    assert there.database and there.broker
    inside = [scratch.find("ip") or "ip", "netns", "exec", net.namespace(host), sys.executable, "-m"]
    there.add(f"host {host} post", [*inside, "tests.mailbox", "--port", str(POST_PORT)])
    queues = ["--queues", "clock,notices,jobs", "--concurrency", "2", "--hostname", f"all@{host}"]
    celery = ["celery", "--app", "clinic", "--quiet", "worker", *queues, "--loglevel", "warning"]
    there.add(
        f"host {host}", [*inside, "tests.drills.hooked", *celery], DRILL_HOST=host,
        DATABASE_URL=there.database.url_on_the_net, REDIS_URL=there.broker.url_on_the_net,
        CASELOAD_MAIL_URL=f"smtp://127.0.0.1:{POST_PORT}",
    )  # fmt: skip


def alive() -> set[str]:
    from caseload.models import Pulse

    names = Pulse.objects.filter(name__startswith="worker all@").values_list("name", flat=True)
    return {name.partition("@")[2] for name in names}


def busy() -> set[str]:
    """Hosts that did a step of a job which is not over yet."""
    from caseload.models import Contact, Job

    going = Job.objects.filter(kind=JOB, ended_at__isnull=True, reached__step__gt=0).values_list("pk", flat=True)
    texts = [text for pk in going for text in Contact.objects.filter(text__startswith=f"job {pk} step ")
             .order_by("-pk").values_list("text", flat=True)[:1]]  # fmt: skip
    return {text.partition(" on ")[2] for text in texts}


def told(there: Stage) -> None:
    """How much each of them did; each must have done some of both."""
    from caseload.models import Contact

    texts = asked(lambda: list(Contact.objects.filter(text__startswith="job ").values_list("text", flat=True)))
    steps = Counter(text.partition(" on ")[2] for text in texts)
    sent = {host: there.keeper.members[f"host {host} post"].text().split() for host in HOSTS}
    there.delivered += [each for host in HOSTS for each in sent[host]]
    for host in HOSTS:
        if not steps[host] or not sent[host]:
            there.fault("two hosts", f"host {host} did {steps[host]} steps and sent {len(sent[host])} e-mails")
    said = ", ".join(f"{host}: {steps[host]} steps of jobs, {len(sent[host])} e-mails" for host in HOSTS)
    there.remarks.append(f"two hosts: {said}")
