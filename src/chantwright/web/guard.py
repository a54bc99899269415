"""What every answer carries and every request must show, whatever the page.

On the teacher's own computer the server listens on loopback only and wants no password; so that no
page of another site can speak to it, the ``Host`` must be a loopback name, and anything that
changes something must come from a page of ours.

References
----------
W3C Content Security Policy level 3; W3C Fetch Metadata Request Headers (Sec-Fetch-Site); RFC 9110
(Host, Origin); OWASP cheat sheets on cross-site request forgery and DNS rebinding.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

__all__ = ["HEADERS", "LOOPBACK", "foreign", "guarded", "known_host"]

LOOPBACK = ("127.0.0.1", "localhost", "[::1]", "::1")
HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
        "media-src 'self' blob:; connect-src 'self'; font-src 'self'; manifest-src 'self'; "
        "worker-src 'self'; frame-src 'self'; base-uri 'none'; form-action 'self'; "
        "frame-ancestors 'self'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "permissions-policy": "microphone=(self), screen-wake-lock=(self), camera=(), geolocation=()",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
_NOT_IN_A_HOST = frozenset("@/\\?# \t")
_SAFE = ("GET", "HEAD", "OPTIONS")


def known_host(headers: Headers, hosts: tuple[str, ...]) -> bool:
    """Whether the request names a host that is ours; any port will do."""
    named = headers.get("host", "")
    if _NOT_IN_A_HOST & set(named):  # a name before it, or a path behind, would be part of a link
        return False
    try:
        name = urlsplit(f"//{named}").hostname or ""
    except ValueError:
        return False
    return name in {h.strip("[]") for h in hosts}


def foreign(headers: Headers) -> bool:
    """Whether a page of another site sent the request."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site not in ("same-origin", "none")
    origin = headers.get("origin")
    if origin is None:
        return False
    try:
        return urlsplit(origin).netloc != headers.get("host", "")
    except ValueError:
        return True


async def guarded(
    request: Request,
    call_next: Callable[[Request], Awaitable[Response]],
    hosts: tuple[str, ...],
) -> Response:
    """Let a request through, or refuse it in a sentence; put the headers on the answer."""
    answer: Response
    if not known_host(request.headers, hosts):
        answer = PlainTextResponse("This address is not one of this parish's.", 421)
    elif request.method not in _SAFE and foreign(request.headers):
        answer = PlainTextResponse("This was sent from another site and is not done.", 403)
    else:
        answer = await call_next(request)
    for name, value in HEADERS.items():
        answer.headers.setdefault(name, value)
    # Letters and scripts may be kept if they are asked after; pages never are.
    still = request.url.path.startswith("/static/")
    answer.headers.setdefault("cache-control", "no-cache" if still else "no-store")
    return answer
