import pytest

from tests.scenario import Fernhollow, fernhollow


@pytest.fixture
def clinic(db: None) -> Fernhollow:
    return fernhollow()
