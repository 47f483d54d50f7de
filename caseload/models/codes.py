"""Opaque codes: what stands in addresses instead of a name, an identifier or a running number."""

import secrets

ALPHABET = "23456789abcdefghjkmnpqrstuvwxyz"


def new_code() -> str:
    """Twelve letters and digits that are not mistaken for one another: 59 bits of chance."""
    return "".join(secrets.choice(ALPHABET) for _ in range(12))
