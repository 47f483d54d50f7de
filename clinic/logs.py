"""What a log line says of a request: the route it took, not the path, which carries the codes of records."""

import logging

from django.http import HttpRequest


def route_of(request: HttpRequest) -> str:
    """The pattern of the address, such as `episodes/<code>/`, or a word for an address that matched none."""
    match = request.resolver_match
    return f"/{match.route}" if match else "an unknown address"


class RouteNotPath(logging.Filter):
    """Put the route where Django's request loggers put the path."""

    def filter(self, record: logging.LogRecord) -> bool:
        request = getattr(record, "request", None)
        if isinstance(request, HttpRequest) and isinstance(record.args, tuple):
            paths = {request.path, request.get_full_path()}
            record.args = tuple(route_of(request) if part in paths else part for part in record.args)
        return True
