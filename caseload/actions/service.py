"""What a service stands on: holiday lists, rule sets, closures. Loaded by command, safe to run twice."""

from datetime import date

from django.db import transaction

from caseload.access import Act
from caseload.actions.act import By, act, trail
from caseload.actions.dating import HORIZON, lock_weeks, make
from caseload.actions.in_step import keep_in_step
from caseload.actions.jobs import ask
from caseload.actions.rehousing import call_off
from caseload.actions.resettle import resettle_open_days
from caseload.errors import Refusal
from caseload.models import Closure, Holiday, Region, RuleChange, RuleSet, Session, Site, WeeklySession
from caseload.reads.notices_wanted import keys_to_look_at
from caseload.timetable.regions import Region as Listed
from caseload.timetable.regions import holidays_of
from caseload.timetable.rules import RuleSet as Rules
from caseload.timetable.rules import rule_set_digest


@transaction.atomic
def load_region(listed: Listed, *, by: By) -> Region:
    """Keep a region's holidays as rows, so that an upgrade of the library moves no date by itself."""
    region, _ = Region.objects.update_or_create(
        name=listed.code,
        defaults={
            "title": listed.title, "covered_from": listed.covered_from, "covered_until": listed.covered_until,
            "source": "python-holidays, checked against the published list",
        },
    )  # fmt: skip
    wanted = holidays_of(listed)
    had = dict(region.holidays.values_list("on", "name"))
    if had != wanted:
        region.holidays.all().delete()
        Holiday.objects.bulk_create(Holiday(region=region, on=on, name=name) for on, name in wanted.items())
        if had:
            ask("rederive", by=by)
    return region


@transaction.atomic
def load_rules(rules: Rules, *, by: By) -> RuleSet:
    """Keep a version of the rules, whole. A version that is there already stays as it is; a new one retires the old."""
    body = rules.to_json()
    found = RuleSet.objects.filter(name=rules.name, version=rules.version).first()
    if found:
        return found
    RuleSet.objects.filter(name=rules.name, retired_at__isnull=True).update(retired_at=by.at)
    return RuleSet.objects.create(
        name=rules.name, version=rules.version, title=rules.title, body=body, digest=rule_set_digest(rules),
        signed_by=by.staff, signed_at=by.at,
    )  # fmt: skip


def load_shipped(rules: Rules, *, by: By) -> None:
    """Rules that come with the planner, unless the clinic has signed a version of its own: that is never replaced by
    an upgrade."""
    if not RuleChange.objects.filter(made__name=rules.name).exists():
        load_rules(rules, by=by)


@act(Act.CLOSURE_ADD)
def add_closure(*, by: By, site: Site | None, starts_on: date, ends_on: date, reason: str) -> Closure:
    """Shut a site (None: every site) for some days. Sessions to come in them are called off, and what they touch is
    derived again at once, reminders too; the rest in the background. Raises Refusal `closure-dates` or `why-missing`.
    """
    if ends_on < starts_on:
        raise Refusal("closure-dates", "The last closed day is before the first. Correct one of them.", field="ends_on")
    if not reason.strip():
        raise Refusal("why-missing", "Say why, such as staff training or a flood.", field="reason")
    lock_weeks(**({"site": site} if site else {}))
    closure = Closure.objects.create(site=site, starts_on=starts_on, ends_on=ends_on, reason=reason.strip())
    changed = {"reason": ("", reason), "starts_on": (None, starts_on), "ends_on": (None, ends_on)}
    trail(Act.CLOSURE_ADD, closure, by=by, patient_id=None, changed=changed)
    held = Session.objects.filter(live=True, on__gte=max(starts_on, by.today), on__lte=ends_on)
    held = held.filter(site=site) if site else held
    call_off(held, by=by.unkeyed, why=f"closed, {closure.reason}")
    _derive_again(closure, by)
    return closure


@act(Act.CLOSURE_REMOVE)
def remove_closure(closure: Closure, *, by: By) -> Closure:
    """A closure entered wrongly. Sessions that it called off wait for a person to hold them again; those never made
    are made.
    """
    changed = {
        "reason": (closure.reason, ""),
        "starts_on": (closure.starts_on, None),
        "ends_on": (closure.ends_on, None),
    }
    trail(Act.CLOSURE_REMOVE, closure, by=by, patient_id=None, changed=changed)
    touched = Closure(site=closure.site, starts_on=closure.starts_on, ends_on=closure.ends_on)
    closure.delete()
    weeks = WeeklySession.objects.select_related("site", "therapist")
    make(weeks, first=max(by.today, touched.starts_on), last=min(touched.ends_on, by.today + HORIZON))
    _derive_again(touched, by)
    return closure


def _derive_again(closure: Closure, by: By) -> None:
    sites = [closure.site_id] if closure.site_id else list(Site.objects.values_list("pk", flat=True))
    resettle_open_days(sites, closure.starts_on, closure.ends_on)
    keep_in_step(keys_to_look_at(by.at, site__in=sites, on__gte=closure.starts_on), by=by)
    ask("rederive", by=by)
