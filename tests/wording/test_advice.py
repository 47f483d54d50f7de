"""Why an episode needs somebody and what to do: two sentences for each headline. The wording is our own."""

from datetime import date, timedelta

import pytest

from caseload.timetable.terms import FollowUpKind, Headline
from caseload.wording.advice import Matter, advise
from caseload.wording.speech import speech

TODAY = date(2026, 4, 1)
WINDOW = {
    "kind": FollowUpKind.STITCHES_OUT,
    "earliest_on": date(2026, 3, 28),
    "latest_on": date(2026, 4, 4),
    "proposed_on": date(2026, 4, 2),
}


def said(headline: Headline, **facts) -> tuple[str, str]:
    return advise(Matter(headline, TODAY, **facts), speech())


@pytest.mark.parametrize("headline", Headline)
def test_every_headline_says_why_and_what_to_do_even_when_little_is_known(headline):
    why, remedy = said(headline)
    assert why.endswith(".") and remedy.endswith(".") and why[0].isupper()


@pytest.mark.parametrize("headline", Headline)
def test_no_sentence_keeps_an_empty_place(headline):
    facts = WINDOW | {"due_on": TODAY, "surgery_on": date(2026, 3, 14), "booked_on": date(2026, 3, 30)}
    why, _ = said(headline, **facts, missing=("the hand",), unsettled=("the wound is open",))
    assert "  " not in why and "%" not in why and " ." not in why and " ;" not in why


def test_before_its_last_day_an_unbooked_visit_is_offered_the_proposed_day():
    why, remedy = said(Headline.VISIT_UNBOOKED, **WINDOW)
    assert why == "Stitches out must be by Sat 4 Apr 2026, at most two usable days are left, nothing is booked."
    assert remedy == "Ring today, and book a day up to Sat 4 Apr 2026, as near to Thu 2 Apr 2026 as there is room."


def test_after_its_last_day_the_first_day_there_is_will_do():
    past = WINDOW | {"latest_on": TODAY - timedelta(days=1)}
    why, remedy = said(Headline.VISIT_UNBOOKED, **past)
    assert why == "The last day for stitches out was Tue 31 Mar 2026, 1 day ago; nothing is booked."
    assert remedy == "Ring today, and book the first day there is."


def test_a_day_outside_the_window_says_on_which_side_and_by_how_much():
    late, _ = said(Headline.BOOKED_OUTSIDE, **WINDOW, booked_on=date(2026, 4, 7))
    early, _ = said(Headline.BOOKED_OUTSIDE, **WINDOW, booked_on=date(2026, 3, 27))
    assert late.endswith("3 days after its last day, Sat 4 Apr 2026.")
    assert early.endswith("1 day before its first day, Sat 28 Mar 2026.")


def test_the_proposed_day_is_not_offered_once_it_has_passed():
    passed = WINDOW | {"proposed_on": TODAY - timedelta(days=1)}
    assert said(Headline.NOT_REBOOKED, **passed)[1] == "Ring today, and book a day up to Sat 4 Apr 2026."


def test_who_has_to_be_told_of_a_visit_to_come_is_named_with_its_day():
    why, _ = said(Headline.UNTOLD, **WINDOW, booked_on=date(2026, 4, 2))
    assert why == (
        "Stitches out is booked for Thu 2 Apr 2026: the patient, or the interpreter they need, has not been told."
    )
    assert said(Headline.UNTOLD)[0] == "An appointment was moved or cancelled, and the patient has not been told."
