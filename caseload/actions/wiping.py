"""The demo and a real service are never mixed; and wiping the demo, only where all of the record is the demo's.

The tables are emptied as a whole, in one transaction. References between rows are checked when it commits, so the
order of the tables does not matter.
"""

from typing import Final

from django.apps import apps
from django.contrib.sessions.models import Session
from django.db import DEFAULT_DB_ALIAS, models, transaction

from caseload.actions.act import By
from caseload.errors import Refusal
from caseload.models import Episode, Patient, Site, Staff
from caseload.reads.names import holds_demo

APPS: Final = ("caseload", "account", "mfa", "usersessions")
"""Ours, and what people sign in with."""


def invented(by: By) -> bool:
    """Whether a patient whom somebody adds here is invented: all are where the demo is loaded, none elsewhere.

    Raises Refusal `demo-database` for a real person in the demo.
    """
    if by.staff and by.staff.demo:
        return True
    demo = holds_demo()
    if demo and by.staff:
        raise Refusal("demo-database", "This database holds the demo. Wipe it first: python manage.py demo --wipe")
    return demo


def refuse_mixed() -> None:
    """Raises Refusal `demo-and-real` where people of the demo and real ones stand side by side."""
    people = {
        demo for table in (Staff, Patient) for demo in table._base_manager.values_list("demo", flat=True).distinct()
    }
    if len(people) > 1:
        raise Refusal("demo-and-real", "The demo and a real service are mixed here. They are never kept together.")


def real_rows() -> dict[str, int]:
    """What belongs to a real service, by name of the table: patients and staff not of the demo, sites without it."""
    found = {
        "patients": Patient.objects.filter(demo=False).count(),
        "staff": Staff.objects.filter(demo=False).count(),
        "sites": 0 if holds_demo() else Site.objects.count(),
    }
    return {name: count for name, count in found.items() if count}


@transaction.atomic
def wipe() -> dict[str, int]:
    """Empty the record of the demo and sign everybody out; gives back how many rows of each table there were.

    Raises Refusal `not-the-demo` where there is anything that is not the demo's.
    """
    if real := real_rows():
        said = " and ".join(f"{count} {name}" for name, count in real.items())
        raise Refusal("not-the-demo", f"This database holds {said} of a real service. Nothing was wiped.")
    counts = {"episodes": Episode.objects.count(), "patients": Patient.objects.count(), "staff": Staff.objects.count()}
    ours = [model for app in APPS for model in apps.get_app_config(app).get_models()]
    tables: list[type[models.Model]] = [*ours, Session]
    for table in tables:
        table._base_manager.all()._raw_delete(DEFAULT_DB_ALIAS)
    return counts
