"""How far a notice is, in words: one row for each state and way."""

from datetime import UTC, datetime

import pytest

from caseload.models import Notice
from caseload.wording.notices import say_news_sent, say_state, say_when

DUE = datetime(2026, 4, 1, 8, tzinfo=UTC)
"""09:00 at the clinic: it is summer time."""
FROM = "from Wed 1 Apr 2026, 09:00"
AT = datetime(2026, 4, 3, 9, 2, tzinfo=UTC)


def notice(channel: str, state: str, **about: object) -> Notice:
    return Notice(channel=channel, state=state, due_at=DUE, **about)


@pytest.mark.parametrize(
    ("row", "state", "when", "news"),
    [
        (notice("email", "waiting"), "waiting", FROM, f"E-mail waits, {FROM}"),
        (notice("email", "sent", sent_at=AT), "sent", "Fri 3 Apr 2026, 10:02", "E-mail sent Fri 3 Apr 2026, 10:02"),
        (
            notice("email", "failed", error="refused"), "could not be sent", "was due Wed 1 Apr 2026, 09:00",
            "E-mail could not be sent: the mail server refused it",
        ),
        (notice("letter", "waiting"), "waiting", FROM, "Letter to be printed"),
        (
            notice("letter", "waiting", batch_id=1), "printed, not posted yet", FROM,
            "Letter printed, not posted yet",
        ),
        (notice("letter", "sent", sent_at=AT), "posted", "Fri 3 Apr 2026, 10:02",
         "Letter posted Fri 3 Apr 2026, 10:02"),
    ],
)  # fmt: skip
def test_what_was_written_is_said_with_its_day_and_hour(row, state, when, news):
    assert (say_state(row), say_when(row), say_news_sent(row)) == (state, when, news)


def test_a_call_is_to_be_made_or_was_made():
    assert [say_state(notice("call", state)) for state in ("waiting", "sent", "withdrawn")] == [
        "to ring", "rung", "withdrawn",
    ]  # fmt: skip


def test_an_email_withdrawn_while_somebody_was_sending_it_may_have_gone_out():
    held = notice("email", "withdrawn", claimed_until=AT)
    assert say_state(held) == "withdrawn while it was being sent: it may have gone out"
    assert say_state(notice("email", "withdrawn", claimed_until=AT, error="unreachable")) == "withdrawn"
