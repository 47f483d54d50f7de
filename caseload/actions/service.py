"""What a service stands on: holiday lists, rule sets, closures. Loaded by command, safe to run twice."""

from datetime import date

from django.db import transaction

from caseload.access import Act
from caseload.actions.act import By, act, trail
from caseload.actions.jobs import ask
from caseload.models import Closure, Holiday, Region, RuleSet, Site
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


@act(Act.CLOSURE_ADD)
def add_closure(*, by: By, site: Site | None, starts_on: date, ends_on: date, reason: str) -> Closure:
    """Shut a site (None: every site) for some days; what that moves is derived again in the background."""
    closure = Closure.objects.create(site=site, starts_on=starts_on, ends_on=ends_on, reason=reason)
    trail(Act.CLOSURE_ADD, closure, by=by, patient_id=None, changed={"reason": ("", reason)})
    ask("rederive", by=by)
    return closure
