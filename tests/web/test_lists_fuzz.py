"""Whatever an address or a form of the lists is sent, a page answers."""

import pytest

from caseload.models import FillPlan
from tests.scenario import TODAY, by
from tests.web.fuzz import NONSENSE, ask_nonsense, encodable, post_nonsense

LISTS = (
    "/caseload/", "/overdue/", "/today/", "/rules/", "/search/", "/help/", "/sign-in/", "/to-book/", "/diary/",
    "/rehousing/", "/sessions/", "/waits/", "/waits/patients/",
    "/waits/report/", "/waits/months/", "/need/", "/fill/", "/trail/",
)  # fmt: skip
NAMES = (
    "sort", "page", "per", "site", "therapist", "headline", "owner", "state", "suture", "planned", "name", "set",
    "text", "on", "of", "as", "moving", "row", "kind", "session",
    "clock", "period", "first", "last", "surgeon", "priority", "by", "which", "group", "year", "slots",
    "who", "what", "act", "patient", "before",
)  # fmt: skip
SORTS = ("-", "--day", "day,-day", ",,,", "patient__given", "?", "id", "line", "-state,therapist,hand", "x" * 5000)


@pytest.fixture
def rows(clinic):
    for _ in range(3):
        clinic.episode()


@pytest.mark.parametrize("address", LISTS)
def test_nonsense_in_an_address_never_breaks_a_list(rows, lead, address):
    assert {answer.status_code for answer in ask_nonsense(lead, address, *NAMES)} <= {200, 302}


@pytest.mark.parametrize("address", ["/caseload/", "/overdue/"])
@pytest.mark.parametrize("sort", SORTS)
def test_nonsense_in_an_order_never_breaks_a_list(rows, lead, address, sort):
    assert lead.get(address, {"sort": sort}).status_code == 200


@pytest.mark.parametrize("column", ["patient", "hand", "since", "step", "state", "therapist"])
def test_every_column_of_the_caseload_orders_both_ways(rows, lead, column):
    assert {lead.get("/caseload/", {"sort": sort}).status_code for sort in (column, f"-{column}")} == {200}


@pytest.mark.parametrize("column", ["what", "patient", "line", "whose"])
def test_every_column_of_the_overdue_list_orders_both_ways(rows, lead, column):
    assert {lead.get("/overdue/", {"sort": sort}).status_code for sort in (column, f"-{column}")} == {200}


@pytest.mark.parametrize("address", ["/search/", "/caseload/", "/overdue/", "/sign-in/"])
def test_nonsense_in_a_form_never_breaks_a_page(rows, lead, client, address):
    for nonsense in NONSENSE:
        sent = encodable(dict.fromkeys(("text", "name", "site", "username", "password", "next"), nonsense))
        for asker in (lead, client):
            assert asker.post(address, sent).status_code < 500


def test_nonsense_asked_of_a_plan_or_of_its_lines_is_answered(clinic, lead):
    plan = FillPlan.objects.create(made_at=by().at, first_on=TODAY, last_on=TODAY, cost=0, bound=0, could_place=0)
    address = f"/fill/{plan.code}/"
    assert {answer.status_code for answer in ask_nonsense(lead, address, "fate", "site", "page")} == {200}
    sent = [encodable({"chosen": nonsense, "line": nonsense, "all": nonsense}) for nonsense in NONSENSE]
    assert {lead.post(address, each).status_code for each in sent} == {302}
    assert {answer.status_code for answer in post_nonsense(lead, "/fill/")} <= {302, 400, 422}


@pytest.mark.parametrize("nonsense", NONSENSE)
def test_nonsense_asked_of_an_export_is_refused_or_answered(rows, lead, nonsense):
    answer = lead.post("/caseload/", encodable({"kind": nonsense, "key": nonsense}))
    assert answer.status_code in (200, 302, 400)
