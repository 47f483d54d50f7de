"""Filing a month of waits: what the lead stands by. It is filed once and never changed; what is entered later shows
beside it (`reads.filings.restatement`)."""

from datetime import date

from django.db import IntegrityError, transaction

from caseload.access import Act
from caseload.actions.act import By, act, trail
from caseload.errors import Refusal
from caseload.models import Filing
from caseload.reads.filings import known, month_of, years
from caseload.waits.rows import Period
from caseload.wording.dates import say_month
from caseload.wording.filing import say_filed


@act(Act.MONTH_FILE)
def file_month(month: date, *, by: By) -> Filing:
    """File the calendar month of a day as its figures are known now.

    Raises Refusal `month-not-over`, `nobody-waited` or `already-filed`: of two leads at once the database lets one file
    it, and the other is told who did.
    """
    period = _over(month, by.today)
    filed = known(period)
    if not filed.waits:
        raise _nobody_waited(month)
    try:
        with transaction.atomic():
            row = Filing.objects.create(month=period.first, body=filed.to_json(), filed_by=by.person, filed_at=by.at)
    except IntegrityError:
        raise _already_filed(period.first) from None
    trail(Act.MONTH_FILE, row, by=by, patient_id=None, changed={"month": (None, period.first)})
    return row


def _over(month: date, today: date) -> Period:
    """The calendar month of a day, where it is over and there were waits in its year; no calendar goes on for ever."""
    if month > today or month_of(month).last >= today:
        raise Refusal("month-not-over", f"{say_month(month)} is not over yet. It can be filed from the day after it.")
    if month.year not in years(today):
        raise _nobody_waited(month)
    return month_of(month)


def _nobody_waited(month: date) -> Refusal:
    return Refusal("nobody-waited", f"Nobody waited in {say_month(month)}, so there is nothing to file.")


def _already_filed(month: date) -> Refusal:
    was = Filing.objects.select_related("filed_by").get(month=month)
    return Refusal("already-filed", f"{say_month(month)} was filed {say_filed(was)}. A filed month is never changed.")
