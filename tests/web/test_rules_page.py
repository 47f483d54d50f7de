"""The rules as they are signed off, read only."""

from tests import scenario

ADDRESS = "/rules/"


def test_every_day_count_of_the_rules_stands_with_its_source(clinic, therapist):
    page = " ".join(therapist.get(ADDRESS).content.decode().split())
    assert "Stitches out" in page and "non-absorbable stitches, raised risk" in page
    assert "common practice: a wound that heals slowly is given up to a week more" in page
    assert "1 day after the stitches are fully out, best from day 2" in page


def test_each_rule_has_a_row(clinic, therapist):
    body = clinic.rules.body
    rows = therapist.get(ADDRESS).content.decode().count('<th scope="row"')
    assert rows == len(body["follow_ups"]) + len(body["activities"]) + len(["this version"])


def test_another_set_is_one_link_away(clinic, therapist):
    scenario.rules("ten-to-fourteen")
    page = therapist.get(ADDRESS).content.decode()
    assert "Two weeks" in page and "Ten to fourteen days" in page
    shown = therapist.get(ADDRESS, {"set": "ten-to-fourteen 1"}).content.decode()
    assert "Ten to fourteen days, version 1" in shown


def test_a_set_that_there_is_not_shows_the_first(clinic, therapist):
    assert "Two weeks, version 1" in therapist.get(ADDRESS, {"set": "none"}).content.decode()


def test_without_rules_the_page_says_what_that_means(clinic, therapist):
    type(clinic.rules).objects.all().delete()
    assert "No rules are signed off" in therapist.get(ADDRESS).content.decode()
