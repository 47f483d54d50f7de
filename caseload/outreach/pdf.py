"""HTML to PDF, through WeasyPrint (the extra `pdf`), which is imported here only. Nothing is fetched from a network.

WeasyPrint needs Pango from the system; where either is missing, `available` is false and a browser prints instead.
"""

import mimetypes
from functools import lru_cache
from pathlib import Path
from typing import Any

from django.contrib.staticfiles import finders

OWN = "https://static.invalid/"
"""Where relative addresses of a page lead: to the static files of the planner, in this process."""


@lru_cache(maxsize=1)
def _weasyprint() -> Any:
    try:
        import weasyprint
    except (ImportError, OSError):  # the second: Pango, or a library that it stands on, is not on this machine
        return None
    return weasyprint


def available() -> bool:
    return _weasyprint() is not None


def own_file(url: str) -> Path:
    """The static file at an address. Raises ValueError for anything that is not a static file of the planner."""
    found = finders.find(url.removeprefix(OWN)) if url.startswith(OWN) else None
    if not found:
        raise ValueError("Only the planner's own static files may stand on a sheet.")
    return Path(found)


def typeset(html: str) -> Any:
    """The page as WeasyPrint sets it; `pages` are the sheets of paper that it takes."""
    weasyprint = _weasyprint()
    return weasyprint.HTML(string=html, base_url=OWN, url_fetcher=_fetcher(weasyprint)).render(pdf_tags=True)


def make_pdf(html: str) -> bytes:
    """The page as a file in the PDF format, tagged for screen readers."""
    return typeset(html).write_pdf(pdf_tags=True)


def _fetcher(weasyprint: Any) -> Any:
    class OwnFiles(weasyprint.urls.URLFetcher):
        def fetch(self, url: str, headers: Any = None) -> Any:
            path = own_file(url)
            kind = mimetypes.guess_type(path.name)[0] or "application/octet-stream"
            return weasyprint.urls.URLFetcherResponse(url, path.read_bytes(), {"Content-Type": kind})

    return OwnFiles(allowed_protocols=["https"])
