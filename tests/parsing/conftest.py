from collections.abc import Callable

import pytest

from caseload.errors import Refusal


@pytest.fixture
def refusal() -> Callable[..., Refusal]:
    """Call a reader that must refuse, and hand back what it said."""

    def call(read: Callable[..., object], *args: object, **named: object) -> Refusal:
        with pytest.raises(Refusal) as caught:
            read(*args, **named)
        return caught.value

    return call
