"""What patients are written about an appointment: when, where and whom to ring, in plain words, and nothing that tells
a stranger what it is about. Reading age as in `test_reading_age`; the cautions are common practice."""

from datetime import date

import pytest
from django.template.loader import get_template
from django.utils import translation

from caseload.actions import appointments, episodes, rehousing
from caseload.booking.notices import NoticeKind
from caseload.models import Appointment, Notice
from caseload.outreach.letters import TEMPLATES, addressee, compose
from tests.outreach import pseudo
from tests.outreach.reading import WORD, grades, sentences_of
from tests.scenario import TODAY, Fernhollow, by

KINDS = ("booked", "moved", "cancelled", "week-before", "days-before")
ON = date(2026, 4, 13)
CHILD = date(2015, 5, 5)
TELLING = (
    "Rosa", "Quillfeather", "hand", "finger", "thumb", "trigger", "stitch", "wound", "therapy", "surg", "operation",
    "999", "1960", "http", "www", "@", "//",
)  # fmt: skip


def appointment(clinic: Fernhollow, **person: object) -> Appointment:
    patient = clinic.patient(**({"given": "Rosa", "family": "Quillfeather"} | person))
    return clinic.book([clinic.episode(patient).follow_ups.get(key="stitches-out")], ON, told="untold")


def body(about: Appointment, kind: str, channel: str = "email") -> str:
    return compose(notice(about, kind, channel)).body


def notice(about: Appointment, kind: str, channel: str = "email") -> Notice:
    return Notice(kind=kind, channel=channel, appointment=about, patient=about.patient, due_at=by().at)


def moved(clinic: Fernhollow, about: Appointment, on: date, told: str = "untold") -> None:
    appointments.move(about, by=by(clinic.admin), session=clinic.session(on), start=560, told=told)


def test_an_e_mail_tells_a_stranger_nothing(clinic):
    about = appointment(clinic, nhs_number="999 000 0018")
    said = [compose(notice(about, kind)) for kind in KINDS]
    assert {each.subject for each in said} == {"About your appointment"}
    told = "\n".join(each.body for each in said).lower()
    assert [word for word in TELLING if word.lower() in told] == []
    assert about.patient.code not in told and about.code not in told


@pytest.mark.parametrize("channel", ["email", "letter"])
@pytest.mark.parametrize("born_on", [CHILD, date(1960, 1, 2)])
def test_every_message_says_when_whom_to_ring_and_what_it_is_not_for(clinic, channel, born_on):
    about = appointment(clinic, born_on=born_on)
    for kind in KINDS:
        said = body(about, kind, channel)
        for words in ("Monday 13 April 2026 at 09:00", "01632 960100", "This message is not for urgent problems.",
                      "Get medical help at once.", "What your treating team told you comes first."):  # fmt: skip
            assert words in said
        assert ("your child" in said.lower()) == (born_on == CHILD)
        assert ("by e-mail" in said) == (channel == "email")


def test_it_can_be_read_at_the_age_of_eleven(clinic):
    read = 0
    for born_on in (CHILD, date(1960, 1, 2)):
        about = appointment(clinic, born_on=born_on)
        for kind in KINDS:
            # Neither whom it greets nor who signs is counted.
            said = sentences_of(body(about, kind).split("\n\n")[1:-1])
            assert max(grades(said)) <= 6 and max(len(words) for words in said) <= 18, kind
            read += 1
    assert read == 10


def test_no_sentence_stays_untranslated(clinic, monkeypatch):
    pseudo.install(monkeypatch)
    about = appointment(clinic)
    moved(clinic, about, date(2026, 4, 14))
    with translation.override("xb"):
        said = "\n".join(body(about, kind, channel) for kind in KINDS for channel in ("email", "letter"))
        subject = compose(notice(about, "moved")).subject
    assert set(WORD.findall(pseudo.outside(said))) <= {"Fernhollow"} and not pseudo.outside(subject).strip()


def test_one_to_come_says_where_and_what_to_do_if_it_does_not_suit(clinic):
    said = body(appointment(clinic), "booked")
    assert "Please come to Fernhollow." in said and "Does this not suit you? Please ring us" in said


@pytest.mark.parametrize(("way", "words"), [("telephone", "We will ring you then."), ("video", "It is by video.")])
def test_nobody_comes_for_what_is_not_in_person(clinic, way, words):
    about = appointment(clinic)
    about.way = way
    assert f"{words} You do not need to come." in body(about, "days-before")


def test_moved_says_the_old_time_and_the_new_one(clinic):
    about = appointment(clinic)
    moved(clinic, about, date(2026, 4, 14))
    said = body(about, "moved")
    assert "It is now on Tuesday 14 April 2026 at 09:20." in said
    assert "It is no longer on Monday 13 April 2026 at 09:00. The earlier time does not stand." in said


def test_moved_twice_it_names_every_time_since_the_patient_last_knew(clinic):
    about = appointment(clinic)
    moved(clinic, about, date(2026, 4, 14), told="told")
    moved(clinic, about, date(2026, 4, 15))
    moved(clinic, about, date(2026, 4, 16))
    said = body(about, "moved")
    assert "no longer on Tuesday 14 April 2026 at 09:20 or on Wednesday 15 April 2026 at 09:20." in said
    assert "13 April" not in said


def test_called_off_and_found_another_time_it_is_moved(clinic):
    about = appointment(clinic)
    rehousing.call_off([about.session], by=by(clinic.lead), why="illness")
    about.refresh_from_db()
    rehousing.rehouse(about, by=by(clinic.lead), session=clinic.session(date(2026, 4, 14)), start=560)
    assert "no longer on Monday 13 April 2026 at 09:00." in body(about, "moved")


def test_the_same_time_elsewhere_has_no_earlier_time(clinic):
    about = appointment(clinic)
    assert "no longer" not in body(about, "moved") and "earlier" not in body(about, "moved")


def test_cancelled_says_not_to_come_and_who_rings(clinic):
    about = appointment(clinic)
    appointments.end(about, by=by(clinic.admin), outcome="cancelled-by-clinic")
    said = body(about, "cancelled")
    assert "on Monday 13 April 2026 at 09:00 will not take place. Please do not come for it." in said
    assert "We will ring you to find a new time." in said


def test_cancelled_because_nothing_is_left_promises_no_call(clinic):
    about = appointment(clinic)
    given_away = {"how": "transferred", "on": TODAY, "received_by": "Another hand clinic"}
    episodes.close(about.patient.episodes.get(), by=by(clinic.lead), version=1, **given_away)
    assert "We will ring" not in body(about, "cancelled")


def test_without_a_telephone_number_it_names_none(clinic):
    about = appointment(clinic)
    about.site.telephone = ""
    assert "Our telephone number" not in body(about, "booked") and "Please ring us" in body(about, "booked")


@pytest.mark.parametrize(
    ("born_on", "first"),
    [
        (date(2010, 4, 2), "To the parent or guardian of Rosa Quillfeather"),
        (date(2010, 4, 1), "Dear Rosa Quillfeather"),
        (None, "Dear Rosa Quillfeather"),
    ],
)
def test_a_letter_under_sixteen_goes_to_the_adult_who_is_responsible(clinic, born_on, first):
    about = appointment(clinic, born_on=born_on)
    assert body(about, "booked", "letter").split("\n\n")[0] == first
    assert addressee(about.patient, by().today) == first.removeprefix("Dear ")


def test_a_name_with_a_sign_in_it_stands_as_it_is(clinic):
    about = appointment(clinic, given="D'Arcy", family="Ash & Elm")
    assert "Dear D'Arcy Ash & Elm" in body(about, "booked", "letter")


def test_every_kind_of_notice_has_its_text():
    assert TEMPLATES.keys() == set(NoticeKind) and all(
        get_template(f"letters/{each}.txt") for each in TEMPLATES.values()
    )


def test_a_notice_about_nothing_is_a_fault(clinic):
    with pytest.raises(ValueError, match="about nothing"):
        compose(Notice(kind="referrer", channel="letter", patient=clinic.patient(), due_at=by().at))
