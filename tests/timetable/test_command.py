"""`python manage.py timetable`: lines in, lines out, in order, without a database."""

import io
import json
import subprocess
import sys
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from caseload.exchange.episode_lines import MOST_BYTES
from caseload.management.commands.timetable import EXAMPLE, Command, lines_of
from tests.timetable.builders import ENGLAND, FIXTURES, TWO_WEEK, day

Answer = tuple[list[dict[str, Any]], str, int]
Ask = Callable[..., Answer]
ROOT = FIXTURES.parent
PLAIN = '{"ref": "a1", "surgery_on": "2026-03-20", "suture": "non-absorbable"}'


@pytest.fixture
def ask(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Ask:
    """Run the command over lines in a file or on standard input; gives objects, errors and the exit status."""

    def run(*lines: str | bytes, piped: bool = False, **options: str) -> Answer:
        data = b"".join((line if isinstance(line, bytes) else line.encode()) + b"\n" for line in lines)
        (tmp_path / "in.jsonl").write_bytes(data)
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(data)))
        out, err, status = io.StringIO(), io.StringIO(), 0
        chosen = {"rules": "two-week", "region": "GB-ENG", "today": "2026-04-01"} | options
        try:
            call_command("timetable", "-" if piped else str(tmp_path / "in.jsonl"), stdout=out, stderr=err, **chosen)
        except SystemExit as exit:
            status = exit.code
        return [json.loads(line) for line in out.getvalue().splitlines()], err.getvalue(), status

    return run


def proposed(answer: Answer) -> list[str]:
    return [each["follow_ups"][0]["proposed_on"] for each in answer[0]]


@pytest.mark.parametrize("piped", [False, True])
def test_each_line_is_answered_in_order(ask: Ask, piped: bool) -> None:
    bodies, errors, status = ask(PLAIN, PLAIN.replace("a1", "b2").replace("-20", "-23"), piped=piped)
    assert [each["ref"] for each in bodies] == ["a1", "b2"] and (errors, status) == ("", 0)
    assert [each["follow_ups"][0]["proposed_on"] for each in bodies] == ["2026-04-02", "2026-04-07"]


def test_it_says_why_in_sentences(ask: Ask) -> None:
    (body,), _, _ = ask(PLAIN)
    assert body["follow_ups"][0]["why"] == [
        "Rules “Two weeks”, version 1: 12 to 16 days after surgery, best on day 14.",
        "This rule is for non-absorbable stitches and no raised healing risk.",
        "Counted from surgery on Fri 20 Mar 2026.",
        "Fri 3 Apr 2026 is a public holiday (Good Friday); "
        "the nearest open day inside the window is Thu 2 Apr 2026, day 13.",
    ]


def test_a_line_that_cannot_be_read_is_named_and_the_others_answered(ask: Ask) -> None:
    bodies, errors, status = ask(PLAIN, '{"surgery_on": "20.3.2026"}', "", "{", PLAIN)
    assert len(bodies) == 2 and status == 1
    first, second = errors.splitlines()
    assert first == (
        "line 2: surgery_on: “20.3.2026” is not a day from 1900 to 2100; give one that exists, such as 2026-04-01."
    )
    assert second.startswith("line 4: line: it is not JSON")


def test_an_order_that_the_rules_cannot_follow_is_a_refused_line(ask: Ask, tmp_path: Path) -> None:
    body = json.loads((FIXTURES / "rules" / "two-week.json").read_text())
    body["follow_ups"] = [rule for rule in body["follow_ups"] if rule["kind"] != "therapy-review"]
    (tmp_path / "own.json").write_text(json.dumps(body))
    order = {"item": "therapy-review", "earliest": 1, "target": 2, "latest": 3}
    line = json.dumps({"surgery_on": "2026-03-20", "instructions": [order]})
    bodies, errors, status = ask(line, rules=str(tmp_path / "own.json"))
    assert (bodies, status) == ([], 1)
    assert errors == "line 1: The rules “Two weeks” say nothing of therapy-review.\n"


def test_an_empty_file_is_no_error(ask: Ask) -> None:
    assert ask() == ([], "", 0)


def test_the_other_rules_and_rules_from_a_file(ask: Ask) -> None:
    path = str(FIXTURES / "rules" / "ten-to-fourteen.json")
    for rules in ("ten-to-fourteen", path):
        answer = ask(PLAIN, rules=rules)
        assert proposed(answer) == ["2026-04-01"] and answer[0][0]["rules"]["name"] == "ten-to-fourteen"


def test_the_region_decides_the_holidays(ask: Ask) -> None:
    line = PLAIN.replace("-20", "-23")
    assert proposed(ask(line, region="GB-SCT")) == ["2026-04-06"] and proposed(ask(line)) == ["2026-04-07"]


def test_closed_days_are_passed_over(ask: Ask, tmp_path: Path) -> None:
    (tmp_path / "closed.txt").write_text("2026-04-02 stock-taking\n")
    (body,), _, _ = ask(PLAIN, closed=str(tmp_path / "closed.txt"))
    assert body["follow_ups"][0]["proposed_on"] == "2026-04-01"


def test_it_answers_as_of_the_day_given(ask: Ask) -> None:
    late = [ask(PLAIN, today=today)[0][0]["follow_ups"][0]["days_late"] for today in ("2026-04-05", "2026-04-08")]
    assert late == [0, 3]


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"today": "1/4/2026"}, "--today: “1/4/2026” is not a day; give one such as 2026-04-01."),
        ({"rules": "three-week"}, "There are no rules “three-week”; give two-week, ten-to-fourteen or a JSON file."),
        ({"rules": "none.json"}, "none.json: No such file or directory."),
        ({"region": "GB"}, "There is no region “GB”; the known ones are GB-ENG (England & Wales), "),
        ({"closed": "none.txt"}, "none.txt: No such file or directory."),
    ],
)
def test_an_option_that_cannot_be_used_is_explained(ask: Ask, options: dict[str, str], message: str) -> None:
    with pytest.raises(CommandError) as error:
        ask(PLAIN, **options)
    assert str(error.value).startswith(message)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"{", "own.json is not JSON: Expecting"),
        (b"\xff", "own.json is not UTF-8; save it as UTF-8."),
        (b"{}", "shape: it is missing; give a whole number from 1 to 1000."),
    ],
)
def test_rules_that_cannot_be_read_are_explained(ask: Ask, tmp_path: Path, content: bytes, message: str) -> None:
    (tmp_path / "own.json").write_bytes(content)
    with pytest.raises(CommandError) as error:
        ask(PLAIN, rules=str(tmp_path / "own.json"))
    assert message in str(error.value)


@pytest.mark.parametrize(
    ("content", "message"), [(b"soon\n", "line 1: “soon” is not a"), (b"\xff\n", "closed.txt is not")]
)
def test_closed_days_that_cannot_be_read_are_explained(ask: Ask, tmp_path: Path, content: bytes, message: str) -> None:
    (tmp_path / "closed.txt").write_bytes(content)
    with pytest.raises(CommandError) as error:
        ask(PLAIN, closed=str(tmp_path / "closed.txt"))
    assert message in str(error.value)


def test_a_file_that_is_not_there_is_explained() -> None:
    with pytest.raises(CommandError, match="none.jsonl: No such file or directory."):
        call_command("timetable", "none.jsonl", rules="two-week", region="GB-ENG", today="2026-04-01")


def test_an_endless_line_is_cut_and_refused(ask: Ask) -> None:
    bodies, errors, status = ask(b"{" + b" " * (3 * MOST_BYTES), PLAIN)
    assert len(bodies) == 1 and status == 1
    assert errors == "line 1: line: it is longer than 1000000 bytes; give one episode a line.\n"


@pytest.mark.parametrize("length", [MOST_BYTES - 1, MOST_BYTES, MOST_BYTES + 1, 2 * MOST_BYTES + 2, 3 * MOST_BYTES])
def test_a_long_line_stays_one_line(length: int) -> None:
    lines = list(lines_of(io.BytesIO(b"x" * length + b"\nnext")))
    assert len(lines) == 2 and lines[1] == b"next" and len(lines[0]) <= MOST_BYTES + 1


def test_help_has_an_example_that_works(ask: Ask, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        call_command("timetable", "--help")
    assert EXAMPLE.strip() in capsys.readouterr().out
    line = EXAMPLE.split("'")[1]
    assert proposed(ask(line)) == ["2026-04-02"]


def command(*arguments: str) -> list[str]:
    options = ["--rules", "two-week", "--region", "GB-ENG", "--today", "2026-04-01"]
    return [sys.executable, str(ROOT / "manage.py"), "timetable", *options, *arguments]


def test_from_the_shell_it_speaks_utf_8_whatever_the_locale() -> None:
    line = '{"ref": "ä", "surgery_on": "2026-03-20", "suture": "none"}\n{"ref": "ö", "surgery_on": "x"}\n'
    ran = subprocess.run(
        command(), input=line.encode(), capture_output=True, cwd=ROOT, env={"LC_ALL": "C", "PYTHONUTF8": "0"}
    )
    assert ran.returncode == 1 and json.loads(ran.stdout.decode())["ref"] == "ä"
    assert ran.stderr.decode().startswith("line 2: surgery_on: “x” is not a day")


def test_a_reader_that_has_seen_enough_is_no_error(tmp_path: Path) -> None:
    path = tmp_path / "many.jsonl"
    path.write_text((PLAIN + "\n") * 300)
    with subprocess.Popen(command(str(path)), stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT) as process:
        assert process.stdout and process.stderr
        assert json.loads(process.stdout.readline())["ref"] == "a1"
        process.stdout.close()
        assert process.stderr.read() == b"" and process.wait() == 0


class Endless(io.RawIOBase):
    """A file of so many equal lines that is never held as a whole."""

    def __init__(self, count: int) -> None:
        self.left = count

    def readline(self, size: int | None = -1) -> bytes:
        self.left -= 1
        return PLAIN.encode() + b"\n" if self.left >= 0 else b""


class Nowhere(io.StringIO):
    """Takes what is printed and keeps none of it."""

    def write(self, text: str) -> int:
        return len(text)


def test_memory_stays_flat_however_many_lines() -> None:
    command = Command(stdout=Nowhere(), stderr=Nowhere())

    def peak(count: int) -> int:
        tracemalloc.start()
        command.answer(Endless(count), TWO_WEEK, ENGLAND, day("2026-04-01"))  # type: ignore[arg-type]
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return most

    peak(10)  # what is loaded or remembered once is not counted
    assert peak(500) < peak(50) + 20_000
