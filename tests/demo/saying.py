"""What both tests of the command share."""

from io import StringIO

from django.core.management import call_command

from caseload.models import Patient, Staff
from tests.scenario import fernhollow


def say(*arguments: str) -> str:
    out = StringIO()
    call_command("demo", *arguments, stdout=out)
    return out.getvalue()


def make_real(what: str) -> None:
    if what == "patients":
        Patient.objects.create(given="Ada", family="Holm", search_key="holm ada")
    elif what == "staff":
        Staff.objects.create(username="real", name="Real Person", is_admin=True)
    else:
        clinic = fernhollow()
        Staff.objects.all().delete()
        clinic.quay.delete()
