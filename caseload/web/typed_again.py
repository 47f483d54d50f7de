"""A form that was sent while the screen was locked, or by its page as nobody used it any more: it is not carried out,
and stands there again, filled in as it was typed, once its person is back. It is kept in their own session, which is
sealed; passwords and files are not. What a draft keeps (`drafts.py`) is not this module's.
"""

from typing import Final

from django.contrib import messages
from django.http import HttpRequest, QueryDict
from django.utils.datastructures import MultiValueDict

from caseload.access.addresses import ADDRESSES, LOOK

TYPED: Final = "typed"
MOST: Final = 50_000
"""Characters of one form; a longer one is no form of ours."""
OF_SIGNING_IN: Final = ("account_", "mfa_", "usersessions_", "second-", "unlock")


def keep(request: HttpRequest) -> bool:
    """Keep what was sent, where its page is a form that a person fills in."""
    name = (request.resolver_match and request.resolver_match.url_name) or ""
    row = ADDRESSES.get(name)
    if row is None or row.read != row.send or LOOK in row.send or row.asks_why or name.startswith(OF_SIGNING_IN):
        return False
    body = request.POST.urlencode()
    if request.FILES or len(body) > MOST:
        return False
    request.session[TYPED] = [request.get_full_path(), body]
    return True


def bring_back(request: HttpRequest) -> None:
    """On the page that it belongs to: show it as it was typed. Nothing is saved by it, since the page is only read."""
    if request.method != "GET" or request.session.get(TYPED, [""])[0] != request.get_full_path():
        return
    _, body = request.session.pop(TYPED)
    request.POST, request._files = QueryDict(body), MultiValueDict()  # type: ignore[attr-defined]
    messages.warning(request, "What you typed stands here again and is not saved yet. Look through it, then save it.")
