"""The trail and its seals in words."""

from collections.abc import Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext

from caseload.exchange.seals import Fault, Proof, Wrong

WRONGS: Final[Mapping[Wrong, str | Promise]] = {
    Wrong.CHANGED: lazy("is not as it was sealed"),
    Wrong.MISSING: lazy("is missing"),
    Wrong.ADDED: lazy("was put there after the block was sealed"),
    Wrong.SEAL: lazy("the seal itself was changed"),
    Wrong.CHAIN: lazy("it does not follow on the block before: the chain is broken"),
    Wrong.EXPECTED: lazy("it is not the block that was noted elsewhere"),
}
TAKEN_AWAY: Final = frozenset({"export", "intake-refused"})
"""Looks that were files, beside those whose name says so."""
ASKED_FOR: Final = frozenset({"patient-file"})
"""Forms in which a file is asked for: whoever only opens one takes nothing away."""
PAGES: Final[Mapping[str, str | Promise]] = {
    "wait-patients": lazy("patients behind a figure of the waits"),
    "mfa_index": lazy("own sign-in"),
    "usersessions_list": lazy("where one is signed in"),
    "filings": lazy("filed months"),
    "filing": lazy("filed month"),
    "feed": lazy("calendar address"),
    "need": lazy("need and room"),
    "fill-plan": lazy("plan for the unbooked"),
    "letter-batch": lazy("letters printed together"),
    "intake-list": lazy("theatre list"),
    "rehousing": lazy("whom to rehouse"),
    "job": lazy("work that was asked for"),
    "jobs": lazy("work in progress"),
}
"""Pages whose addresses are named for the program rather than for the reader."""
FORMS: Final[Mapping[str, str | Promise]] = {
    "patient-new": lazy("add a patient"),
    "patient-correct": lazy("correct the details"),
    "patient-contact": lazy("log a call or a message"),
    "patient-file": lazy("ask for everything held on a patient"),
    "patient-keep": lazy("keep a record"),
    "referral-new": lazy("add a referral"),
    "referral-correct": lazy("correct a referral"),
    "episode-new": lazy("open an episode"),
    "episode-correct": lazy("correct the facts"),
    "episode-close": lazy("close an episode"),
    "episode-reopen": lazy("open an episode again"),
    "episode-rules": lazy("move an episode to other rules"),
    "contact-new": lazy("log a call or a message"),
    "visit-new": lazy("record a visit"),
    "appointment-visit": lazy("record a visit"),
    "visit-withdraw": lazy("withdraw a visit"),
    "measurement-correct": lazy("correct a measurement"),
    "measurement-withdraw": lazy("withdraw a measurement"),
    "finding-correct": lazy("correct a finding"),
    "finding-withdraw": lazy("withdraw a finding"),
    "red-flag-escalate": lazy("escalate a red flag"),
    "red-flag-close": lazy("close a red flag"),
    "instruction-new": lazy("add an instruction"),
    "instruction-confirm": lazy("confirm an instruction"),
    "instruction-withdraw": lazy("withdraw an instruction"),
    "review-new": lazy("set a review"),
    "review-withdraw": lazy("withdraw a review"),
    "follow-up-done": lazy("say that a follow-up is done"),
    "appointment-new": lazy("book an appointment"),
    "appointment-move": lazy("move an appointment"),
    "appointment-end": lazy("record an outcome"),
    "appointment-tell": lazy("say whether the patient knows"),
    "session-call-off": lazy("call off a session"),
    "notice-call": lazy("say what came of a call"),
    "referrer-letter": lazy("write to a referrer"),
    "notice-withdraw": lazy("withdraw a notice"),
    "patient-open": lazy("open the record of somebody else's patient"),
}
"""Forms of one patient, as what they are for."""
TABLES: Final[Mapping[str, str | Promise]] = {"entries": lazy("act"), "looks": lazy("look")}


def say_proof(proof: Proof) -> str:
    """“812 blocks, 40,311 rows, sealed up to 9f86…; 12 rows are not sealed yet. Everything fits.”"""
    blocks = ngettext("%(count)s block", "%(count)s blocks", proof.blocks) % {"count": f"{proof.blocks:,}"}
    rows = ngettext("%(count)s row", "%(count)s rows", proof.rows) % {"count": f"{proof.rows:,}"}
    unsealed = ngettext(
        "%(count)s row is not sealed yet", "%(count)s rows are not sealed yet", proof.unsealed
    ) % {"count": f"{proof.unsealed:,}"}  # fmt: skip
    up_to = _("%(blocks)s, %(rows)s") % {"blocks": blocks, "rows": rows}
    if proof.blocks:
        up_to = _("%(said)s, the last digest %(digest)s") % {"said": up_to, "digest": proof.digest}
    fits = _("Something does not fit.") if proof.faults else _("Everything fits.")
    return f"{up_to}; {unsealed}. {fits}"


def say_fault(fault: Fault) -> str:
    """“Block 12: act 40311 is not as it was sealed.”"""
    said = {"block": fault.block, "wrong": WRONGS[fault.wrong]}
    if not fault.row:
        return _("Block %(block)d: %(wrong)s.") % said
    said |= {"table": TABLES[fault.table], "row": fault.row}
    return _("Block %(block)d: %(table)s %(row)d %(wrong)s.") % said


def is_taken_away(route: str) -> bool:
    """Whether a look was no page but a file."""
    return route in TAKEN_AWAY or (route.endswith("-file") and route not in ASKED_FOR)


def say_look(route: str, rows: int) -> str:
    """“looked at: episode”, “looked at a list: caseload, 25 rows”, “taken away as a file: caseload, 25 rows”."""
    taken = is_taken_away(route)
    said = {"what": _page(route.removesuffix("-file") if taken else route), "count": rows}
    if taken:
        said["what"] = said["what"] if not rows else _rows(said)
        return _("taken away as a file: %(what)s") % said
    if rows:
        return _("looked at a list: %(rows)s") % {"rows": _rows(said)}
    return _("looked at: %(what)s") % said


def _page(route: str) -> str:
    """A page in words: by the name of its address where that says it. A form is told as one: nothing is done yet."""
    if route in FORMS:
        return _("the form to %(do)s") % {"do": FORMS[route]}
    return str(PAGES[route]) if route in PAGES else route.replace("-", " ") or _("the planner")


def _rows(said: Mapping[str, object]) -> str:
    return ngettext("%(what)s, %(count)d row", "%(what)s, %(count)d rows", int(str(said["count"]))) % said
