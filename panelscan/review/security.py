"""Who may talk to the review page: this machine, with the start token, from its own page.

A local page is still a web server: any site open in the same browser can send requests to
it. So the server listens on the loopback address only, the Host header must name it (a
foreign name that was pointed at 127.0.0.1 is refused: DNS rebinding), every request carries
the start token in a cookie that only this page's own requests send (``SameSite=Strict``),
unsafe methods must also come from the same origin, and the answers forbid everything that
the page does not need (Content-Security-Policy, W3C CSP Level 3).
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Iterable

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

COOKIE = "panelscan-start"
MOST_BODY_BYTES = 256_000
SAFE_METHODS = frozenset({"GET", "HEAD"})
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Frame-Options": "DENY",
    "Cache-Control": "no-store",
}


def new_token() -> str:
    """A start token that cannot be guessed."""
    return secrets.token_urlsafe(32)


def hosts_for(port: int) -> frozenset[str]:
    """Host headers that name this server."""
    return frozenset({f"127.0.0.1:{port}", f"localhost:{port}", f"[::1]:{port}"})


def refusal(status: int, text: str) -> Response:
    """A refusal in the one shape that all errors have."""
    return JSONResponse({"error": text}, status_code=status)


class Guard:
    """ASGI middleware that lets through only what this page may ask.

    Parameters
    ----------
    app : ASGIApp
        What is guarded.
    token : str
        The start token.
    hosts : iterable of str
        Allowed Host headers.
    """

    def __init__(self, app: ASGIApp, token: str, hosts: Iterable[str]) -> None:
        self.app = app
        self.token = token
        self.hosts = frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or pass on with the protecting headers added to the answer."""
        if scope["type"] != "http":
            return
        sender = _with_headers(send)
        request = Request(scope)
        refused = self._refusal(request)
        if refused is not None:
            await refused(scope, receive, sender)
            return
        await self.app(scope, _limited(receive, request.headers), sender)

    def _refusal(self, request: Request) -> Response | None:
        """What is answered instead, or None where the request may pass."""
        if request.headers.get("host", "") not in self.hosts:
            return refusal(400, "This address is not the review page's own.")
        if request.url.path == "/" and "start" in request.query_params:
            return self._let_in(request.query_params["start"])
        if not self._is_known(request.cookies.get(COOKIE, "")):
            if request.url.path == "/":
                return PlainTextResponse(
                    "Open the address that panelscan review printed; it holds the key.", 403
                )
            return refusal(403, "This request does not carry the start token.")
        if request.method not in SAFE_METHODS and not self._is_own(request.headers):
            return refusal(403, "This request comes from another site.")
        if _length(request.headers) > MOST_BODY_BYTES:
            return refusal(413, "That is too much at once.")
        return None

    def _let_in(self, given: str) -> Response:
        if not self._is_known(given):
            return PlainTextResponse("That key is not the one of this start.", 403)
        answer = RedirectResponse("/", 303)
        answer.set_cookie(COOKIE, self.token, httponly=True, samesite="strict", path="/")
        return answer

    def _is_known(self, given: str) -> bool:
        return hmac.compare_digest(given.encode(), self.token.encode())

    def _is_own(self, headers: Headers) -> bool:
        """Whether an unsafe request says it comes from this origin (Fetch Standard, Origin)."""
        origin = headers.get("origin", "")
        own = {f"http://{host}" for host in self.hosts}
        site = headers.get("sec-fetch-site", "same-origin")
        return origin in own and site in ("same-origin", "none")


def _length(headers: Headers) -> int:
    try:
        return int(headers.get("content-length", "0"))
    except ValueError:
        return MOST_BODY_BYTES + 1


def _with_headers(send: Send) -> Send:
    async def sender(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                if name == "Cache-Control" and "cache-control" in headers:
                    continue
                headers[name] = value
        await send(message)

    return sender


def _limited(receive: Receive, headers: Headers) -> Receive:
    """Stop a body that is longer than it said, or that said nothing, at the limit."""
    seen = 0

    async def receiver() -> Message:
        nonlocal seen
        message = await receive()
        if message["type"] == "http.request":
            seen += len(message.get("body", b""))
            if seen > MOST_BODY_BYTES:
                return {"type": "http.disconnect"}
        return message

    return receiver
