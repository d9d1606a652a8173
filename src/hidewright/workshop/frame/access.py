"""The access log and what every log leaves out: the tokens of one-time links."""

import logging
import re
import time
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

logger = logging.getLogger("hidewright.access")
TOKEN = re.compile(r"(/door/)[^/\s]+")


def masked(text: str) -> str:
    """The text without the tokens of one-time links."""
    return TOKEN.sub(r"\1…", text)


class WithoutTokens(logging.Filter):
    """Takes tokens out of every line, whoever wrote it."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Mask the line; it is always written."""
        record.msg, record.args = masked(record.getMessage()), ()
        return True


def access_log(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Write a line for each request: which device, what, the answer, and how long it took; no query, no form, no token."""

    def middleware(request: HttpRequest) -> HttpResponse:
        began = time.monotonic()
        response = get_response(request)
        device = getattr(request, "device", None)
        who = device.pk if device is not None else "-"
        took = 1000 * (time.monotonic() - began)
        logger.info(
            "%s %s %s %d %.0f ms", who, request.method, masked(request.path), response.status_code, took
        )
        return response

    return middleware
