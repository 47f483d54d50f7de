"""What an act is refused for."""

from collections.abc import Callable

import pytest

from caseload.errors import Refusal


def refused(do: Callable[[], object]) -> str:
    """The code of the refusal that it raises."""
    with pytest.raises(Refusal) as refusal:
        do()
    return refusal.value.code
