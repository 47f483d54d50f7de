"""`python manage.py waits`: any list of waits in, one JSON object out, without a database."""

import io
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from django.core.management import CommandError, call_command
from lifelines import KaplanMeierFitter
from lifelines.statistics import logrank_test
from statsmodels.stats.proportion import proportion_confint

from caseload.management.commands.waits import EXAMPLE

Answer = tuple[dict[str, Any], str, int]
Ask = Callable[..., Answer]
ROOT = Path(__file__).resolve().parents[2]
SEEN, OPEN = (5, 8, 10, 12, 15), (20, 25, 30, 40)
NINE = "days,ended\n" + "".join(f"{day},seen\n" for day in SEEN) + "".join(f"{day},waiting\n" for day in OPEN)


@pytest.fixture
def ask(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Ask:
    """Run the command over a list in a file or on standard input; gives the object, errors and the exit status."""

    def run(text: str, piped: bool = False, **options: str) -> Answer:
        (tmp_path / "in.csv").write_text(text)
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(text.encode())))
        out, err, status = io.StringIO(), io.StringIO(), 0
        try:
            call_command("waits", "-" if piped else str(tmp_path / "in.csv"), stdout=out, stderr=err, **options)
        except SystemExit as exit:
            status = exit.code
        return json.loads(out.getvalue() or "{}"), err.getvalue(), status

    return run


@pytest.mark.parametrize("piped", [False, True])
def test_who_still_waits_is_counted_in(ask: Ask, piped: bool) -> None:
    """Five seen, four open: computed with lifelines."""
    body, errors, status = ask(NINE, piped=piped)
    assert (body["waits"], body["seen"], body["waiting"], body["competing"], errors, status) == (9, 5, 4, {}, "", 0)
    fitted = KaplanMeierFitter().fit([*SEEN, *OPEN], [1] * 5 + [0] * 4)
    assert [step["still_waiting"] for step in body["curve"]] == pytest.approx(fitted.predict(SEEN).tolist())
    limits = fitted.confidence_interval_.loc[list(SEEN)].to_numpy()
    assert np.array([[step["lower"], step["upper"]] for step in body["curve"]]) == pytest.approx(limits)
    assert body["median"]["day"] == fitted.median_survival_time_ == 15


def test_what_is_reached_has_a_day_and_the_mean_reaches_to_the_last(ask: Ask) -> None:
    """Five is enough. Of 2, 4, 6, 8 and 10 the mean is 6: by hand."""
    body, _, _ = ask("days,ended\n" + "".join(f"{day},seen\n" for day in (2, 4, 6, 8, 10)))
    assert (body["median"]["day"], body["centile_92"]["day"], body["refused"]) == (6, 10, None)
    assert body["restricted_mean"] == pytest.approx(6)


def test_the_keys_in_their_order(ask: Ask) -> None:
    body, _, _ = ask(NINE, target="14")
    assert list(body) == [
        "waits", "seen", "waiting", "competing", "curve", "median", "centile_92", "restricted_mean", "within_target",
        "incidence", "refused", "lines_refused", "method",
    ]  # fmt: skip
    assert list(body["curve"][0]) == ["day", "at_risk", "seen", "still_waiting", "se", "lower", "upper"]
    assert list(body["within_target"]) == ["target", "share", "lower", "upper", "completed_only"]
    assert list(body["within_target"]["completed_only"]) == ["count", "of", "share", "lower", "upper"]
    assert all(body["method"].values()) and (body["refused"], body["lines_refused"]) == (None, 0)


def test_what_is_not_reached_is_null(ask: Ask) -> None:
    body, _, _ = ask(NINE)
    assert body["centile_92"] == {"day": None, "lower": None, "upper": None} and body["median"]["upper"] is None
    assert body["within_target"] is None


def test_the_share_within_target_both_ways(ask: Ask) -> None:
    """From the curve 4 of 9; completed only 4 of 5, with the interval of statsmodels."""
    within = ask(NINE, target="14")[0]["within_target"]
    step = ask(NINE)[0]["curve"][3]
    assert (within["target"], within["share"]) == (14, pytest.approx(4 / 9))
    assert (within["lower"], within["upper"]) == pytest.approx((1 - step["upper"], 1 - step["lower"]))
    completed = within["completed_only"]
    assert (completed["count"], completed["of"], completed["share"]) == (4, 5, 0.8)
    expected = proportion_confint(4, 5, method="wilson")
    assert (completed["lower"], completed["upper"]) == pytest.approx(expected)


def test_beyond_the_last_day_watched_the_curve_says_nothing(ask: Ask) -> None:
    within = ask(NINE, target="41")[0]["within_target"]
    assert (within["share"], within["lower"], within["upper"]) == (None, None, None)
    assert within["completed_only"]["count"] == 5


def test_competing_ends_and_who_still_waits_make_up_the_whole(ask: Ask) -> None:
    body, _, _ = ask("days,ended\n1,seen\n2,died\n2,seen\n3,waiting\n4,seen\n5,died\n6,waiting\n7,seen\n")
    assert body["competing"] == {"died": 2} and list(body["incidence"]) == ["seen", "died"]
    assert body["incidence"]["seen"][-1] == {"day": 7, "value": pytest.approx(0.71875)}
    assert body["incidence"]["died"][-1] == {"day": 5, "value": pytest.approx(0.28125)}


def test_groups_each_have_the_same_and_are_compared(ask: Ask) -> None:
    """Against lifelines."""
    east, west = (2, 4, 4, 7, 9, 12), (3, 8, 11, 13, 15)
    rows = [f"{day},seen,east" for day in east] + [f"{day},seen,west" for day in west] + ["9,waiting,alone"]
    body, _, _ = ask("\n".join(["days,ended,site", *rows]), group="site", target="8")
    assert list(body)[10:12] == ["groups", "log_rank"] and list(body["groups"]) == ["alone", "east", "west"]
    assert body["groups"]["east"]["within_target"]["share"] == pytest.approx(4 / 6)
    assert body["groups"]["east"].keys() == body.keys() - {"groups", "log_rank", "lines_refused", "method"}
    expected = logrank_test(east, west)
    found = body["log_rank"]
    assert (found["chi_square"], found["degrees"]) == (pytest.approx(expected.test_statistic), 1)
    assert found["p"] == pytest.approx(expected.p_value) and found["observed"] == {"east": 6, "west": 5}
    assert sum(found["expected"].values()) == pytest.approx(11)


def test_one_group_is_compared_with_nothing(ask: Ask) -> None:
    assert ask("days,ended,site\n" + "3,seen,a\n" * 5, group="site")[0]["log_rank"] is None


def test_fewer_than_five_have_numbers_and_no_curve(ask: Ask) -> None:
    body, errors, status = ask("days,ended\n3,seen\n4,seen\n5,died\n9,waiting\n", target="3")
    assert (body["waits"], body["seen"], body["waiting"], body["competing"]) == (4, 2, 1, {"died": 1})
    assert (body["curve"], body["incidence"], body["restricted_mean"]) == ([], {}, None)
    assert body["median"] == body["centile_92"] == {"day": None, "lower": None, "upper": None}
    assert body["within_target"]["share"] is None and body["within_target"]["completed_only"]["count"] == 1
    assert body["refused"].startswith("Fewer than 5 waits: ") and (errors, status) == ("", 0)


def test_an_empty_list_is_no_error(ask: Ask) -> None:
    body, errors, status = ask("days,ended\n", target="14", group="ended")
    assert (body["waits"], body["groups"], body["log_rank"], errors, status) == (0, {}, None, "", 0)
    assert body["within_target"]["completed_only"] == {"count": 0, "of": 0, "share": None, "lower": None, "upper": None}


def test_a_line_that_cannot_be_read_is_named_and_the_others_answered(ask: Ask) -> None:
    body, errors, status = ask(NINE + "-1,seen\n7,\n")
    assert (body["waits"], body["lines_refused"], status) == (9, 2, 1)
    assert errors.splitlines()[0] == (
        "line 11: days: “-1” is not a whole number of days from 0 to 100000; give one such as 12."
    )
    assert errors.splitlines()[1].startswith("line 12: ended: it is empty; ")


def test_a_list_without_its_columns_is_refused_whole(ask: Ask) -> None:
    body, errors, status = ask("3,seen\n4,seen\n")
    assert (body, status) == ({}, 1) and errors.startswith("line 1: days: there is no such column; name the columns")


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"target": "-1"}, "--target: “-1” is not a whole number of days up to 100000; give one such as 14."),
        ({"target": "soon"}, "--target: “soon” is not a whole number"),
        ({"target": "999999"}, "--target: “999999” is not a whole number"),
        ({"today": "1/4/2026"}, "--today: “1/4/2026” is not a day; give one such as 2026-04-01."),
    ],
)
def test_an_option_that_cannot_be_used_is_explained(ask: Ask, options: dict[str, str], message: str) -> None:
    with pytest.raises(CommandError) as error:
        ask(NINE, **options)
    assert str(error.value).startswith(message)


def test_a_file_that_is_not_there_is_explained() -> None:
    with pytest.raises(CommandError, match="none.csv: No such file or directory."):
        call_command("waits", "none.csv")


def test_help_has_an_example_that_works(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(SystemExit):
        call_command("waits", "--help")
    assert EXAMPLE.strip() in capsys.readouterr().out
    line = next(line for line in EXAMPLE.splitlines() if "manage.py waits" in line)
    out = io.StringIO()
    monkeypatch.chdir(ROOT)
    call_command("waits", *line.split("manage.py waits ")[1].split(), stdout=out)
    body = json.loads(out.getvalue())
    assert list(body["groups"]) == ["Fernhollow", "Quay Street"] and body["waiting"] and not body["lines_refused"]


def test_the_example_shows_how_completed_only_flatters(ask: Ask) -> None:
    text = (ROOT / "fixtures" / "waits" / "example.csv").read_text()
    within = ask(text, today="2026-04-30", target="14")[0]["within_target"]
    assert within["completed_only"]["share"] > within["share"]


def test_from_the_shell_it_speaks_utf_8_whatever_the_locale() -> None:
    text = "days,ended,site\n" + "3,seen,Süd\n" * 5 + "x,seen,ä\n"
    ran = subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "waits", "-", "--group", "site"],
        input=text.encode(), capture_output=True, cwd=ROOT, env={"LC_ALL": "C", "PYTHONUTF8": "0"},
    )  # fmt: skip
    assert ran.returncode == 1 and list(json.loads(ran.stdout.decode())["groups"]) == ["Süd"]
    assert ran.stderr.decode().startswith("line 7: days: “x” is not a whole number")
