"""The addresses of the pages. Only opaque codes stand in them, never a name, a number or a birth date."""

from django.urls import path

from caseload.web.routes_booking import appointments
from caseload.web.routes_diary import diary_pages
from caseload.web.routes_feed import calendars
from caseload.web.routes_filing import filing
from caseload.web.routes_fill import fill
from caseload.web.routes_intake import intake
from caseload.web.routes_jobs import jobs
from caseload.web.routes_need import need
from caseload.web.routes_notices import notice_pages
from caseload.web.routes_people import people_pages
from caseload.web.routes_privacy import privacy_pages
from caseload.web.routes_record import record
from caseload.web.routes_rules import rule_pages
from caseload.web.routes_sessions import people_and_sessions
from caseload.web.routes_sheet import sheets
from caseload.web.routes_sign_in import sign_in_pages
from caseload.web.routes_to_book import to_book
from caseload.web.routes_trail import trail_pages
from caseload.web.routes_visits import visits
from caseload.web.routes_waits import waits
from caseload.web.views import caseload, drafts, health, help, metrics, overdue, search, sign_in, today

urlpatterns = [
    path("livez", health.livez, name="livez"),
    path("readyz", health.readyz, name="readyz"),
    path("metrics", metrics.show, name="metrics"),
    path("", sign_in.home, name="home"),
    *sign_in_pages,
    path("today/", today.show, name="today"),
    path("appointments/<slug:code>/of-the-day/", today.record, name="today-outcome"),
    path("caseload/", caseload.show, name="caseload"),
    path("overdue/", overdue.show, name="overdue"),
    path("search/", search.show, name="search"),
    path("drafts/throw-away/", drafts.throw_away, name="draft-throw-away"),
    path("help/", help.show, name="help"),
    *intake,
    *record,
    *visits,
    *appointments,
    *calendars,
    *sheets,
    *jobs,
    *people_and_sessions,
    *people_pages,
    *to_book,
    *diary_pages,
    *notice_pages,
    *waits,
    *filing,
    *need,
    *fill,
    *trail_pages,
    *rule_pages,
    *privacy_pages,
]
