"""The text of a rendered sheet, block by block, and how hard it is to read."""

import re
from collections.abc import Iterable
from html.parser import HTMLParser

BLOCKS = {"h1", "h2", "p", "li", "text"}
VOWELS = re.compile(r"[aeiouy]+")
WORD = re.compile(r"[^\W\d_]+(?:['’-][^\W\d_]+)*")
ENDS = re.compile(r"[.!?]+(?:\s+|$)")


class _Blocks(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, str, bool]] = []
        self.open, self.text, self.in_header = "", "", False

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.in_header = self.in_header or tag == "header"
        if tag in BLOCKS:
            self.open, self.text = tag, ""

    def handle_endtag(self, tag: str) -> None:
        if tag == self.open:
            self.found.append((tag, " ".join(self.text.split()), self.in_header))
            self.open = ""
        self.in_header = self.in_header and tag != "header"

    def handle_data(self, data: str) -> None:
        self.text += data
        assert self.open or not data.strip() or "{" in data or data.startswith("Plan"), f"text in no block: {data}"


def blocks(html: str, *, header: bool = True, titles: bool = True) -> list[str]:
    """The text of each heading, paragraph, entry and word of the picture in the body."""
    reader = _Blocks()
    reader.feed(html[html.index("<body") :])
    return [text for tag, text, heads in reader.found if (header or not heads) and (titles or tag in ("p", "li"))]


def text_of(html: str) -> str:
    return "\n".join(blocks(html))


def sentences(html: str) -> list[list[str]]:
    """What the patient reads, as lists of words: paragraphs and entries, without headings, names and numbers, none of
    which would be counted as hard. An entry of a list is a sentence at least."""
    return sentences_of(blocks(html, header=False, titles=False))


def sentences_of(paragraphs: Iterable[str]) -> list[list[str]]:
    """The same of plain text."""
    said = [part for paragraph in paragraphs for part in ENDS.split(paragraph)]
    return [words for part in said if (words := WORD.findall(part))]


def syllables(word: str) -> int:
    """Groups of vowels, without an e that is not spoken."""
    spoken = re.sub(r"(?<=[^aeiouy])(?:(?<![td])ed|(?<![szxh])es|(?<![^aeiouy]l)e)$", "", word.lower())
    return max(1, len(VOWELS.findall(spoken)))


def grades(said: list[list[str]]) -> tuple[float, float]:
    """Flesch–Kincaid grade level and Automated Readability Index."""
    words = [word for sentence in said for word in sentence]
    a_sentence, letters = len(words) / len(said), sum(map(len, words)) / len(words)
    spoken = sum(map(syllables, words)) / len(words)
    return 0.39 * a_sentence + 11.8 * spoken - 15.59, 4.71 * letters + 0.5 * a_sentence - 21.43
