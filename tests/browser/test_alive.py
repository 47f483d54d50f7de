import pytest

pytestmark = pytest.mark.browser


def test_the_server_under_test_answers_a_real_browser(page):
    assert page.goto("/livez").status == 200
