"""Text as people type it, made even: spaces, odd characters, accents."""

import unicodedata

from caseload.errors import Refusal

_LETTERS = str.maketrans({"ø": "o", "đ": "d", "ð": "d", "þ": "th", "ł": "l", "æ": "ae", "œ": "oe", "ı": "i", "ħ": "h"})
_BLANKS = frozenset({"", "-", "--", "\u2013", "\u2014"})


def tidy(text: str) -> str:
    """One line with single spaces, compatible characters made plain, invisible ones dropped.

    Raises Refusal `control-character` on characters that no keyboard gives.
    """
    if not text.isascii():
        text = "".join(c for c in unicodedata.normalize("NFKC", text) if unicodedata.category(c) != "Cf")
    line = " ".join(text.split())
    if not line.isprintable():
        raise Refusal("control-character", f"{quoted(line)} holds characters that cannot be shown: type it again.")
    return line


def tidy_lines(text: str) -> str:
    """Like `tidy`, but line breaks stay (notes)."""
    return "\n".join(tidy(line) for line in text.splitlines()).strip()


def plain(text: str) -> str:
    """For comparing: tidied, small letters, no accents."""
    line = tidy(text).casefold()
    if line.isascii():
        return line
    parts = unicodedata.normalize("NFKD", line.translate(_LETTERS))
    return "".join(c for c in parts if not unicodedata.combining(c))


def is_blank(text: str) -> bool:
    """Nothing, or a lone dash, which is how an empty cell is often marked."""
    return len(text) < 9 and text.strip() in _BLANKS or text.isspace()


def read_text(text: str, *, most: int) -> str:
    """Free text on one line of at most `most` characters. Raises Refusal `text-too-long`."""
    return _no_longer(tidy(text), most)


def read_notes(text: str, *, most: int) -> str:
    """Free text of several lines. Raises Refusal `text-too-long`."""
    return _no_longer(tidy_lines(text), most)


def _no_longer(text: str, most: int) -> str:
    if len(text) > most:
        raise Refusal("text-too-long", f"This holds {len(text)} characters: shorten it to {most}.", most=most)
    return text


def quoted(text: str) -> str:
    """What was typed, for a message: in quotes, printable, cut to 40 characters."""
    shown = text[:41]
    if not shown.isprintable():
        shown = "".join(c if c.isprintable() else "\ufffd" for c in shown)
    cut = shown[:39] + "\u2026" if len(shown) > 40 else shown
    return f"\u2018{cut}\u2019"
