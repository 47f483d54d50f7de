"""Somebody signed in without the form, whose hash costs more than most tests; never locked for being idle, never asked
for the password again, and with whatever second factor their role needs."""

from allauth.account.internal.flows import login
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY

from caseload.models import Staff
from caseload.web.sealed_sessions import SessionStore
from caseload.web.staying import SECOND, SEEN

NEVER_IDLE = 1e12
"""Seconds since 1970."""


def session_of(staff: Staff) -> str:
    """The key of a new session, for the cookie."""
    session = SessionStore()
    session[SESSION_KEY] = str(staff.pk)
    session[BACKEND_SESSION_KEY] = "django.contrib.auth.backends.ModelBackend"
    session[HASH_SESSION_KEY] = staff.get_session_auth_hash()
    session[login._AUTHENTICATION_METHODS_USER_SESSION_KEY] = str(staff.pk)
    session[login.AUTHENTICATION_METHODS_SESSION_KEY] = [{"method": "password", "at": NEVER_IDLE}]
    session[SEEN], session[SECOND] = NEVER_IDLE, True
    session.create()
    return str(session.session_key)
