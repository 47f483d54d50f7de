"""A form of a page as a browser would send it, untouched: what is hidden, chosen, ticked or typed in it already."""

from html.parser import HTMLParser


class _Reader(HTMLParser):
    def __init__(self, mark: str) -> None:
        super().__init__()
        self.mark, self.path, self.open, self.list = mark, "", False, ""
        self.fields: dict[str, str] = {}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        of = {name: value or "" for name, value in attrs}
        if tag == "form" and self.mark in of:
            self.path, self.open = of["action"], True
        elif not self.open:
            return
        elif tag == "select":
            self.list = of["name"]
        elif tag == "option" and ("selected" in of or self.list not in self.fields):
            self.fields[self.list] = of["value"]
        elif tag == "input" and of.get("name") and (of.get("type") not in ("radio", "checkbox") or "checked" in of):
            self.fields[of["name"]] = of.get("value", "")

    def handle_endtag(self, tag: str) -> None:
        self.open = self.open and tag != "form"


def form_of(page: str, mark: str) -> tuple[str, dict[str, str]]:
    """Address and fields of the form that bears this attribute; no address where the page has none."""
    reader = _Reader(mark)
    reader.feed(page)
    return reader.path, reader.fields
