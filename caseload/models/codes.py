"""Opaque codes: what stands in addresses instead of a name, an identifier or a running number."""

import secrets

LETTERS = "0123456789abcdefghjkmnpqrstvwxyz"


def new_code() -> str:
    """Twelve of 32 letters and digits (without i, l, o and u, which are misread): 60 bits of chance."""
    chance = secrets.randbits(60)
    return "".join(LETTERS[chance >> shift & 31] for shift in range(0, 60, 5))
