"""Files that are sent to a page: nothing larger than a list may be is kept, not even while it is arriving."""

from django.core.files.uploadhandler import FileUploadHandler, SkipFile
from django.http import HttpRequest

from caseload.exchange.cells import MAX_BYTES

_MARK = "caseload.upload_too_big"


class Quota(FileUploadHandler):
    """First of the handlers: reads on over a file that is too large, keeps none of it, and says so to the view."""

    def new_file(self, *args: object, **kwargs: object) -> None:
        super().new_file(*args, **kwargs)  # type: ignore[arg-type]
        self.received = 0

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes:
        self.received += len(raw_data)
        if self.received > MAX_BYTES and self.request is not None:
            self.request.META[_MARK] = True
            raise SkipFile
        return raw_data

    def file_complete(self, file_size: int) -> None:
        return None


def is_too_big(request: HttpRequest) -> bool:
    return _MARK in request.META
