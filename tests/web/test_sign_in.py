"""Signing in, where each role begins, and what each sees named at the top."""

import re

import pytest
from django.test import Client

from caseload.models import Staff

pytestmark = pytest.mark.usefixtures("cheap")

PAGES = (
    "/", "/today/", "/caseload/", "/to-book/", "/diary/", "/rehousing/", "/sessions/", "/overdue/", "/search/",
    "/rules/", "/help/",
)  # fmt: skip


@pytest.mark.parametrize("address", PAGES)
def test_nobody_sees_a_page_without_signing_in(clinic, client, address):
    assert client.get(address).url == f"/sign-in/?next={address}"


@pytest.mark.parametrize(
    ("role", "begins", "named"),
    [
        ("therapist", "/today/", ["Today", "Caseload", "Overdue"]),
        ("admin", "/to-book/", ["Caseload", "Overdue"]),
        ("lead", "/overdue/", ["Caseload", "Overdue"]),
    ],
)
def test_each_role_begins_on_its_own_page(clinic, sign_in, role, begins, named):
    client = sign_in(getattr(clinic, role))
    assert client.get("/").url == begins
    page = client.get("/help/").content.decode()
    assert [title for title in ("Today", "Caseload", "Overdue") if f">{title}</a>" in page] == named


def test_a_person_signs_in_with_name_and_password_whatever_the_capitals_of_the_name(clinic, client):
    clinic.therapist.set_password("seven soft bandages")
    clinic.therapist.save()
    answer = client.post("/sign-in/", {"username": "THEA", "password": "seven soft bandages"})
    assert answer.url == "/" and client.get("/today/").status_code == 200


def test_a_wrong_password_is_refused_without_saying_which_was_wrong(clinic, client):
    page = client.post("/sign-in/", {"username": "thea", "password": "wrong"}).content.decode()
    assert "do not belong together" in page


@pytest.mark.parametrize("name", ["thea", "nobody-here"])
def test_what_was_wrong_leads_to_the_password_whether_the_name_exists_or_not(clinic, client, name):
    page = client.post("/sign-in/", {"username": name, "password": "wrong"}).content.decode()
    inputs = {re.search('name="(.*?)"', tag)[1]: tag for tag in re.findall("<input.*?>", page, re.S)}
    assert "autofocus" in inputs["password"] and 'aria-describedby="errors"' in inputs["password"]
    assert "autofocus" not in inputs["username"] and page.count('id="errors"') == 1


def test_a_name_left_out_leads_to_the_name(clinic, client):
    page = client.post("/sign-in/", {"username": "", "password": "wrong"}).content.decode()
    assert re.findall(r'name="(\w+)"[^>]*autofocus', page) == ["username"]


def test_after_signing_in_one_lands_where_one_was_going(clinic, client):
    clinic.therapist.set_password("seven soft bandages")
    clinic.therapist.save()
    told = {"username": "thea", "password": "seven soft bandages", "next": "/caseload/?sort=-day"}
    assert client.post("/sign-in/", told).url == "/caseload/?sort=-day"


def test_an_address_elsewhere_is_not_followed(clinic, client):
    clinic.therapist.set_password("seven soft bandages")
    clinic.therapist.save()
    told = {"username": "thea", "password": "seven soft bandages", "next": "https://example.org/"}
    assert client.post("/sign-in/", told).url == "/"


def test_signing_out_is_a_post(clinic, therapist):
    assert therapist.get("/sign-out/").status_code == 405
    assert therapist.post("/sign-out/").url == "/sign-in/"


def test_people_of_the_demo_are_named_only_where_there_are_any(clinic, client):
    assert "People of the demo" not in client.get("/sign-in/").content.decode()
    Staff.objects.create(username="imogen", name="Imogen", password=None, is_lead=True, demo=True)
    Staff.objects.create(username="nia", name="Nia, invited since", password=None, is_lead=True, demo=True)
    page = client.get("/sign-in/").content.decode()
    assert "imogen" in page and "seven soft bandages" in page and "nia" not in page


def test_the_demo_is_marked_on_every_page_of_its_people(clinic):
    demi = Staff.objects.create(username="demi", name="Demi", password=None, is_lead=True, demo=True)
    client = Client()
    client.force_login(demi)
    assert all("here is invented" in client.get(page).content.decode() for page in PAGES[2:])


@pytest.mark.parametrize("address", PAGES[1:])
def test_every_page_carries_the_caution_and_the_way_past_the_menu(therapist, address):
    page = therapist.get(address).content.decode()
    assert "The planner proposes dates; people decide." in page and 'href="#main"' in page


def test_a_page_says_who_is_signed_in_and_as_what(therapist):
    page = " ".join(therapist.get("/help/").content.decode().split())
    assert "Thea Marsh" in page and ">therapist<" in page


@pytest.mark.parametrize("address", ["/sign-in/", "/sign-in/forgotten/", "/sign-in/password/nobody/none/"])
def test_the_demo_says_so_to_whoever_is_not_signed_in(clinic, client, address):
    assert "Every person and every date here is invented." not in client.get(address).content.decode()
    Staff.objects.filter(pk=clinic.lead.pk).update(demo=True, username="imogen")
    assert "Every person and every date here is invented." in client.get(address).content.decode()
