"""Who works at the invented clinic, and whom it deals with. None of them exists."""

from typing import Final, NamedTuple

from django.contrib.auth.hashers import make_password

from caseload.models import Staff
from caseload.timetable.terms import Owner

PASSWORD: Final = "seven soft bandages"
"""One for all demo sign-ins and shown on the sign-in page: it guards nothing but invented people."""


class SignIn(NamedTuple):
    """Somebody of the demo, what they are, and the site they mostly work at."""

    username: str
    name: str
    roles: tuple[Owner, ...]
    site: str


FERNHOLLOW: Final = "Fernhollow"
QUAY_STREET: Final = "Quay Street"

SIGN_INS: Final = (
    SignIn("imogen", "Imogen Tranter", (Owner.LEAD,), FERNHOLLOW),
    SignIn("callum", "Callum Rudge", (Owner.THERAPIST, Owner.LEAD), FERNHOLLOW),
    SignIn("hanneke", "Hanneke Oss", (Owner.THERAPIST,), FERNHOLLOW),
    SignIn("priyanka", "Priyanka Solgaon", (Owner.THERAPIST,), FERNHOLLOW),
    SignIn("joan", "Joan Petherick", (Owner.THERAPIST,), QUAY_STREET),
    SignIn("temi", "Temi Afolayan-Cole", (Owner.THERAPIST,), QUAY_STREET),
    SignIn("maureen", "Maureen Sturgess", (Owner.ADMIN,), FERNHOLLOW),
    SignIn("dafydd", "Dafydd Penhale", (Owner.ADMIN,), QUAY_STREET),
)

SURGEONS: Final = ("Miss R. Lanyon", "Mr D. Thorneywork", "Mr O. Bakshi-Hale", "Miss E. Corrigall")
REFERRERS: Final = ("Day surgery unit", "Fernhollow hand surgery", "Quay Street minor operations", "Millbrook Surgery")
RECEIVERS: Final = ("Hand therapy, Saltmarsh Infirmary", "Community hand clinic, Overbeck")
REPORTERS: Final = ("Sister J. Alderwick, Millbrook Surgery", "Nurse P. Dacosta, Harbour Road practice")


def employ() -> dict[str, Staff]:
    """Make the staff as rows, marked as demo, by user name. The password is hashed once: that is what takes time."""
    hashed = make_password(PASSWORD)
    staff = [_staff(sign_in, hashed) for sign_in in SIGN_INS]
    return {person.username: person for person in Staff.objects.bulk_create(staff)}


def _staff(sign_in: SignIn, hashed: str) -> Staff:
    roles = {f"is_{role}": True for role in sign_in.roles}
    email = f"{sign_in.username}@example.org"
    return Staff(username=sign_in.username, name=sign_in.name, email=email, password=hashed, demo=True, **roles)
