"""Pages of a list: own rules, since an address may hold anything."""

import pytest

from caseload.web.paging import read_paging, with_changes


def test_a_list_begins_with_its_first_twenty_five_rows():
    paging = read_paging({}, total=60)
    assert (paging.page, paging.size, paging.start, paging.stop, paging.pages) == (1, 25, 0, 25, 3)


def test_a_page_out_of_range_is_the_last_and_says_so():
    paging = read_paging({"page": "40"}, total=60)
    assert (paging.page, paging.start, paging.stop, paging.moved_from) == (3, 50, 60, 40)


@pytest.mark.parametrize("size", ["0", "-5", "26", "1000000", "x", "5e3", "", "٢٥"])
def test_only_the_offered_sizes_are_used(size):
    assert read_paging({"per": size}, total=60).size == 25


@pytest.mark.parametrize("page", ["0", "-1", "x", "", "1e9", "²", "None", "9" * 400])
def test_a_page_that_cannot_be_read_is_the_first(page):
    assert read_paging({"page": page}, total=60).page == 1


def test_an_empty_list_has_one_page_without_rows():
    paging = read_paging({}, total=0)
    assert (paging.pages, paging.start, paging.stop) == (1, 0, 0)


def test_far_pages_are_named_by_the_first_and_the_last():
    assert read_paging({"page": "10"}, total=500).named == [1, None, 8, 9, 10, 11, 12, None, 20]


def test_a_single_page_left_out_is_named_rather_than_hidden_behind_dots():
    assert read_paging({"page": "5"}, total=500).named[:4] == [1, None, 3, 4]


def test_an_address_keeps_what_is_not_changed():
    assert with_changes({"site": "a", "page": "3"}, sort="-day", page=None) == "?site=a&sort=-day"
