"""E-mail to a real mail server: at least once under the same Message-ID, recorded once, and what failures become."""

import logging
import re
import stat
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime

import pytest
import time_machine

from caseload import tasks
from caseload.access import Act
from caseload.actions import appointments, notices
from caseload.models import Notice, TrailEntry
from caseload.outreach import post
from caseload.outreach.post import Came
from clinic.mail import as_django, read_mail
from tests.mailbox import SILENCE, Mailbox, mailbox
from tests.scenario import TODAY, Fernhollow, by

DUE = datetime(2026, 4, 1, 9, 30, tzinfo=UTC)
ADDRESS = "rosa@example.org"


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(DUE, tick=False) as travelling:
        yield travelling


@pytest.fixture
def box(settings):
    with mailbox() as server:
        reach(settings, server)
        yield server


def reach(settings, server: Mailbox) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", server.port
    settings.MAIL_URL = f"smtp://127.0.0.1:{server.port}"
    settings.DEFAULT_FROM_EMAIL = "appointments@clinic.example.org"


def written(clinic: Fernhollow) -> Notice:
    """News of an appointment of tomorrow, which is due at once."""
    patient = clinic.patient(given="Rosa", family="Quillfeather", email=ADDRESS, email_consent=True)
    episode = clinic.episode(patient)
    row = episode.follow_ups.get(key="stitches-out")
    return clinic.book([row], TODAY + timedelta(days=1), told="untold").notices.get(kind="booked")


def recorded(notice: Notice) -> int:
    return TrailEntry.objects.filter(act=Act.NOTICE_SEND, subject_id=notice.pk).count()


def test_it_is_sent_and_recorded_once(clinic, box):
    notice = written(clinic)
    assert post.send_due(limit=5) == [Came.SENT] and post.send_due(limit=5) == []
    notice.refresh_from_db()
    assert (notice.state, notice.sent_to, notice.sent_at) == ("sent", ADDRESS, DUE)
    assert len(box.delivered) == recorded(notice) == 1
    assert box.delivered[0].recipients == [ADDRESS]


def test_what_was_sent_is_kept_as_it_went_out(clinic, box):
    notice = written(clinic)
    post.send_notice(notice.pk)
    notice.refresh_from_db()
    assert box.delivered[0].message.get_content().split() == notice.sent_text.split()


def test_its_head_says_a_machine_wrote_it_and_nothing_of_the_patient(clinic, box):
    post.send_notice(written(clinic).pk)
    message = box.delivered[0].message
    assert message["Auto-Submitted"] == "auto-generated"  # RFC 3834, section 5
    assert parsedate_to_datetime(message["Date"]) == DUE
    assert message["Subject"] == "About your appointment"
    assert message["From"] == "appointments@clinic.example.org"
    assert re.fullmatch(r"<[0-9a-f]{32}@caseload\.invalid>", message["Message-ID"])


def test_killed_before_it_was_recorded_it_goes_out_again_as_the_same_message(clinic, box, clock, monkeypatch):
    notice = written(clinic)
    with monkeypatch.context() as killing, pytest.raises(KeyboardInterrupt):
        killing.setattr(notices, "record_sent", killed)
        post.send_notice(notice.pk)
    assert post.send_notice(notice.pk) is None  # its claim still runs
    clock.shift(notices.CLAIM)
    assert post.send_notice(notice.pk) is Came.SENT
    assert len(box.ids) == 2 and len(set(box.ids)) == 1 and recorded(notice) == 1


def killed(*_, **__):
    raise KeyboardInterrupt


def test_two_senders_of_one_whose_claim_ran_out_record_it_once(clinic, box, clock, monkeypatch):
    notice, composed = written(clinic), post.compose

    def slowly(row: Notice):
        """Somebody else takes it over meanwhile, and is done first."""
        monkeypatch.setattr(post, "compose", composed)
        clock.shift(notices.CLAIM)
        assert post.send_notice(row.pk) is Came.SENT
        return composed(row)

    monkeypatch.setattr(post, "compose", slowly)
    assert post.send_notice(notice.pk) is Came.SENT
    assert len(box.ids) == 2 and len(set(box.ids)) == 1 and recorded(notice) == 1


def test_cancelled_just_before_it_is_withdrawn_and_not_sent(clinic, box, monkeypatch):
    notice, claim = written(clinic), notices.claim

    def claim_and_cancel(notice_id: int, now: datetime):
        claimed = claim(notice_id, now)
        appointments.end(claimed.appointment, by=by(clinic.admin), outcome="cancelled-by-patient")
        return claimed

    monkeypatch.setattr(notices, "claim", claim_and_cancel)
    assert post.send_notice(notice.pk) is Came.WITHDRAWN
    notice.refresh_from_db()
    assert notice.state == "withdrawn" and box.delivered == []


@pytest.mark.parametrize("command", ["RCPT", "."])
def test_refused_for_good_it_is_not_tried_again(clinic, box, clock, command):
    box.answers[command] = "550 no such mailbox"
    notice = written(clinic)
    assert post.send_notice(notice.pk) is Came.REFUSED
    clock.shift(timedelta(hours=1))
    assert post.send_due(limit=5) == []
    notice.refresh_from_db()
    assert (notice.state, notice.error) == ("failed", "refused")


@pytest.mark.parametrize("answer", [{"RCPT": "450 busy"}, {"MAIL": "530 no"}, {".": "451 later"}, {"220": "554 away"}])
def test_not_now_is_tried_again_later(clinic, box, clock, answer):
    box.answers |= answer
    notice = written(clinic)
    assert post.send_due(limit=5) == [Came.UNREACHABLE] and post.send_due(limit=5) == []
    box.answers.clear()
    clock.shift(notices.AGAIN[0])
    assert post.send_due(limit=5) == [Came.SENT]
    notice.refresh_from_db()
    assert (notice.state, notice.error) == ("sent", "")


def test_with_the_server_away_the_rest_of_a_pass_is_left_alone(clinic, settings):
    with mailbox() as server:
        reach(settings, server)
    first = written(clinic)
    clinic.book([clinic.episode(first.patient, digit="index").follow_ups.get(key="stitches-out")],
                TODAY + timedelta(days=1), told="untold")  # fmt: skip
    assert post.send_due(limit=5) == [Came.UNREACHABLE]
    assert sorted(Notice.objects.filter(kind="booked").values_list("tries", flat=True)) == [0, 1]


@pytest.mark.parametrize("command", ["220", "EHLO", "RCPT", "."])
def test_a_server_that_never_answers_holds_nobody_beyond_the_limit(clinic, box, settings, command):
    settings.EMAIL_TIMEOUT = 0.05
    box.answers[command] = SILENCE
    assert post.send_notice(written(clinic).pk) is Came.UNREACHABLE


def test_to_a_server_that_cannot_encrypt_nothing_is_said(clinic, box, settings):
    settings.EMAIL_USE_TLS = True
    assert post.send_notice(written(clinic).pk) is Came.UNREACHABLE and box.delivered == []


def test_a_worker_is_given_its_id_and_nothing_else(clinic, box, monkeypatch):
    notice, sent = written(clinic), {}
    monkeypatch.setattr(tasks, "fill", lambda queue, task, due_ids: sent.update({queue: due_ids(5)}))
    tasks.sweep()
    assert sent["notices"] == [notice.pk]
    tasks.send_notice(*sent["notices"])
    assert len(box.delivered) == 1


def test_a_fault_in_writing_it_ends_after_some_tries(clinic, box, clock, monkeypatch):
    notice = written(clinic)
    monkeypatch.setattr(post, "compose", lambda _: 1 / 0)
    came = []
    for _ in range(24):
        came += post.send_due(limit=5)
        clock.shift(timedelta(hours=1))
    notice.refresh_from_db()
    assert set(came) == {Came.UNWRITTEN} and len(came) <= notices.MOST_TRIES
    assert (notice.state, notice.error, box.delivered) == ("failed", "unwritten", [])


def test_no_line_of_the_log_says_who(clinic, box, caplog):
    caplog.set_level(logging.DEBUG)
    notice = written(clinic)
    box.answers["RCPT"] = f"450 <{ADDRESS}> is away"
    post.send_due(limit=5)
    box.answers["RCPT"] = f"550 <{ADDRESS}> is gone"
    Notice.objects.filter(pk=notice.pk).update(claimed_until=None)
    post.send_due(limit=5)
    assert [line.getMessage() for line in caplog.records if line.name == "caseload.post"] == [
        "A notice did not go out: unreachable", "A notice did not go out: refused",
    ]  # fmt: skip
    for word in (ADDRESS, "Rosa", "Quillfeather", notice.key, notice.code, notice.patient.code):
        assert word not in caplog.text


def test_an_invented_patient_is_never_mailed_by_a_server(clinic, box):
    notice = written(clinic)
    type(notice.patient).objects.update(demo=True)
    assert post.send_notice(notice.pk) is Came.WITHDRAWN and box.delivered == []


def test_into_a_folder_one_message_is_one_file_that_its_owner_reads(clinic, settings, tmp_path, clock, monkeypatch):
    settings.EMAIL_BACKEND, settings.MAIL_URL = "caseload.outreach.mail.FolderBackend", "folder:"
    settings.MAIL_FOLDER = tmp_path / "mail"
    notice = written(clinic)
    with monkeypatch.context() as killing, pytest.raises(KeyboardInterrupt):
        killing.setattr(notices, "record_sent", killed)
        post.send_notice(notice.pk)
    clock.shift(notices.CLAIM)
    assert post.send_notice(notice.pk) is Came.SENT
    (kept,) = settings.MAIL_FOLDER.iterdir()
    assert kept.name == post.message_id(notice.key)[1:33] + ".eml" and b"Fernhollow" in kept.read_bytes()
    assert [stat.S_IMODE(path.stat().st_mode) for path in (kept.parent, kept)] == [0o700, 0o600]


def test_without_an_address_only_invented_patients_are_written_to_in_the_folder(clinic, box, settings, tmp_path):
    settings.EMAIL_BACKEND, settings.MAIL_FOLDER = as_django(read_mail("", ""))["EMAIL_BACKEND"], tmp_path
    real, invented = written(clinic), written(clinic)
    type(invented.patient).objects.filter(pk=invented.patient_id).update(demo=True)
    settings.MAIL_URL = ""
    assert (post.send_notice(real.pk), post.send_notice(invented.pk)) == (Came.WITHDRAWN, Came.SENT)
    assert [path.stem for path in tmp_path.iterdir()] == [post.message_id(invented.key)[1:33]]
