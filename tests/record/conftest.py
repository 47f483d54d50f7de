from collections.abc import Iterator

import pytest

from caseload.actions.rederive import rederive
from tests.scenario import Fernhollow, by, fernhollow


@pytest.fixture
def clinic(db: None) -> Fernhollow:
    return fernhollow()


@pytest.fixture
def settled(clinic: Fernhollow) -> Iterator[None]:
    """After the test, what is stored equals what is derived."""
    yield
    assert rederive(by=by(), mend=False).moved == {}
