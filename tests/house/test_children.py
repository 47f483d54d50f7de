"""Child processes live and die together, and none is left behind."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

from caseload.management import children
from tests.house.processes import descendants, gone

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")

PARENT = """
import os, sys
from caseload.management import children
children.GRACE_SECONDS = 1
group = children.Children()
for name, code in zip(("first", "second"), sys.argv[1:]):
    group.start(name, [sys.executable, "-c", code], os.getcwd(), os.environ, again="again" in code)
group.wait_until(lambda: False)
print("ended by itself:", *group.ended())
group.stop()
"""
SAY = "import os; os.write(1, bytes([117, 112, 10]))"  # "up" and its line end in one write: two of them share the pipe
UP = f"{SAY}; import time; time.sleep(600)"
DEAF = f"import signal; signal.signal(signal.SIGTERM, signal.SIG_IGN); {UP}"
WITH_DEAF_CHILD = f"import subprocess, sys; subprocess.run([sys.executable, '-c', {DEAF!r}])"
BRIEF = SAY


class Family:
    """A parent with two children, all of them up."""

    def __init__(self, first: str, second: str) -> None:
        command = [sys.executable, "-c", PARENT, first, second]
        self.parent = subprocess.Popen(command, cwd=settings.BASE_DIR, stdout=subprocess.PIPE, text=True)
        for _ in range(2):
            assert self.parent.stdout.readline() == "up\n"
        self.members = descendants(self.parent.pid)

    def last_words(self) -> str:
        return self.parent.communicate(timeout=20)[0].strip()


@pytest.fixture
def family() -> Iterator[type[Family]]:
    born: list[Family] = []

    def bear(first: str, second: str) -> Family:
        born.append(Family(first, second))
        return born[-1]

    yield bear
    for one in born:
        one.parent.kill()
        for pid in one.members:
            if not gone([pid]):
                os.kill(pid, signal.SIGKILL)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_signal_stops_all(family, number):
    one = family(UP, UP)
    one.parent.send_signal(number)
    assert one.last_words() == "ended by itself:"
    assert len(one.members) == 2 and gone(one.members)


def test_one_that_ends_by_itself_stops_the_rest(family):
    one = family(UP, BRIEF)
    assert one.last_words() == "ended by itself: second"
    assert gone(one.members)


def test_one_that_may_end_is_started_again_and_stops_nobody(family):
    one = family(UP, f"{BRIEF}; 'again'")
    assert one.parent.stdout.readline() == "up\n" and one.parent.poll() is None
    one.parent.terminate()
    assert one.last_words().endswith("ended by itself:")
    assert gone(one.members)


def test_each_end_of_a_short_life_puts_the_next_start_off_for_longer_and_a_long_life_is_forgiven(monkeypatch):
    now = 1000.0
    monkeypatch.setattr(children.time, "monotonic", lambda: now)
    child = children.Child([], Path(), {}, again=True)
    child.began = now
    assert [child.put_off() for _ in range(6)] == [2, 4, 8, 16, 30, 30]
    child.began = now - children.SETTLED_SECONDS - 1
    assert child.put_off() == 1


def test_one_that_will_not_stop_is_killed_after_the_grace(family):
    one = family(DEAF, UP)
    one.parent.terminate()
    one.last_words()
    assert gone(one.members)


def test_what_a_child_started_goes_with_it(family):
    one = family(WITH_DEAF_CHILD, UP)
    one.parent.terminate()
    one.last_words()
    assert len(one.members) == 3 and gone(one.members)


def test_even_a_killed_parent_leaves_nobody_behind(family):
    one = family(UP, UP)
    one.parent.kill()
    assert gone(one.members)
