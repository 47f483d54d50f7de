"""A change of the rules: proposed by a lead, edited, counted out, signed by a second person, or withdrawn."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from caseload.actions import rule_changes
from caseload.actions.act import By, Repeated, carried_out
from caseload.errors import Refusal
from caseload.models import RuleChange
from caseload.reads.rule_changes import EffectSaid, effect_said, open_under
from caseload.reads.rules import rules_of, set_named
from caseload.timetable.rules import RuleSet as Rules
from caseload.timetable.versions import side_by_side
from caseload.web.clock import by_of
from caseload.web.forms.rule_change import OF_SURGEON, CountsForm, ProposalForm, SignForm, WithdrawForm
from caseload.web.views.answering import FORM_METHODS, Page, answer, press
from caseload.wording.rules import meanings


@require_http_methods(FORM_METHODS)
def propose(request: HttpRequest) -> HttpResponse:
    by, base = by_of(request), set_named(request.GET.get("set", ""))
    if base is None:
        raise Http404
    form = ProposalForm(request.POST or None, today=by.today)
    page = Page(
        f"Change the rules: {base.title}", "Begin a copy", reverse("rules"),
        f"A copy of version {base.version} is begun. Nothing changes before two people have signed it.",
    )  # fmt: skip
    return answer(
        request, by, form, page, lambda by: rule_changes.propose(base, by=by, **form.said()),
        to=_to, saved="The copy is begun. Change its numbers.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def show(request: HttpRequest, code: str) -> HttpResponse:
    """The copy with its numbers as a form, what they would do, and how it can end; once it is over, how it ended."""
    by, change = by_of(request), _change(code)
    form = CountsForm(
        request.POST or None, rules=Rules.from_json(change.body), today=by.today, initial={"version": change.version}
    )
    if request.method != "POST":
        return _page(request, change, by, form)
    if not form.is_valid():
        before = carried_out(by)
        return redirect(_to(before)) if before is not None else _page(request, change, by, form, status=422)
    try:
        rule_changes.change_counts(change, by=by, version=form.cleaned_data["version"], numbers=form.numbers())
    except Repeated as repeated:
        return redirect(_to(repeated.outcome))
    except Refusal as refusal:
        stored = _change(code)
        form.refuse(refusal)
        form.take_version(stored.version)
        return _page(request, stored, by, form, status=409)
    messages.success(request, "The copy is saved. Have counted what it would do.")
    return redirect(_to(code))


@require_POST
def count(request: HttpRequest, code: str) -> HttpResponse:
    by, change = by_of(request), _change(code)
    try:
        return redirect("job", rule_changes.ask_effect(change, by=by).code)
    except Repeated as repeated:
        return redirect("job", repeated.outcome)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect(_to(code))


@require_http_methods(FORM_METHODS)
def sign(request: HttpRequest, code: str) -> HttpResponse:
    """The second signature; and, if ticked, the moving of the open episodes."""
    by, change = by_of(request), _change(code)
    form = SignForm(request.POST or None, today=by.today, initial={"version": change.version})
    own = change.proposed_by_id == by.person.pk
    form.groups = (("The second signature", OF_SURGEON), ("Open episodes", ("move",)))
    note = (
        f"{change.proposed_by.name} proposed this. "
        + ("Somebody else signs beside you: name the surgeon here, or let another lead sign." if own else
           "Your signature is the second; leave the surgeon empty, unless one signed instead of you.")
    )  # fmt: skip
    page = Page("Sign the change of rules", "Sign, and put it in force", _to(code), note)
    return answer(
        request, by, form, page, lambda by: _sign(change, by, form), to=_to,
        saved="The new version is in force. New episodes are opened under it.",
    )  # fmt: skip


@require_POST
def withdraw(request: HttpRequest, code: str) -> HttpResponse:
    by, change = by_of(request), _change(code)
    return press(
        request, by, lambda by: rule_changes.withdraw(change, by=by), to=_to(code), saved="The change is withdrawn."
    )


def _sign(change: RuleChange, by: By, form: SignForm) -> RuleChange:
    said = form.cleaned_data
    signed = rule_changes.sign(change, by=by, version=said["version"], surgeon=form.second())
    if said["move"] and signed.made:
        rule_changes.ask_move(signed.made, by=by.unkeyed)
    return signed


def _page(request: HttpRequest, change: RuleChange, by: By, form: CountsForm, status: int = 200) -> HttpResponse:
    effect: EffectSaid | None = effect_said(change.effect, by) if change.effect else None
    context = {
        "change": change, "form": form, "effect": effect, "open": open_under(change.base),
        "lines": [line for line in side_by_side(rules_of(change.base), Rules.from_json(change.body)) if line.changed],
        "over": bool(change.signed_at or change.withdrawn_at), "counted_today": rule_changes.counted_today(change, by),
        "plain": WithdrawForm(today=by.today), "meanings": meanings(),
    }  # fmt: skip
    return render(request, "rules/change.html", context, status=status)


def _change(code: str) -> RuleChange:
    return get_object_or_404(RuleChange.objects.select_related("base", "proposed_by", "second", "made"), code=code)


def _to(code: str) -> str:
    return reverse("rule-change", args=[code])
