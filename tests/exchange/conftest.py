from collections.abc import Callable

import pytest

from caseload.errors import Refusal


@pytest.fixture
def refusal() -> Callable[..., Refusal]:
    """Call something that must refuse, and hand back what it said."""

    def call(function: Callable[..., object], *args: object, **named: object) -> Refusal:
        with pytest.raises(Refusal) as caught:
            function(*args, **named)
        return caught.value

    return call
