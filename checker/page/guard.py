"""Keeps everything away from the page but this computer's own browser."""

from __future__ import annotations

import re

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from checker.page.showing import said
from checker.page.unpacking import LARGEST

HOSTS = ("127.0.0.1", "localhost", "[::1]")
"""This computer's own names."""
TOO_LARGE = f"That is more than the {LARGEST // 2**20} MB that are taken at once. Drop fewer."
_HEADERS = [
    (b"cache-control", b"no-store"),
    (b"referrer-policy", b"same-origin"),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"cross-origin-opener-policy", b"same-origin"),
]


class _TooLarge(Exception):
    """A request's body is over the limit."""


class Guard:
    """Refuses requests that do not come from this computer by its own name, or are too large."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = {
            key.decode("latin-1"): value.decode("latin-1") for key, value in scope["headers"]
        }
        host = headers.get("host", "")
        origin = headers.get("origin", "")
        stranger = re.sub(r":[0-9]+$", "", host) not in HOSTS or (
            origin not in ("", "null") and origin != f"http://{host}"
        )
        if stranger or headers.get("sec-fetch-site", "none") == "cross-site":
            await said(403, "This page is for this computer alone.")(scope, receive, send)
            return
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > LARGEST:
            await self._drain(receive)
            await said(413, TOO_LARGE)(scope, receive, send)
            return
        came = 0

        async def bounded() -> Message:
            nonlocal came
            message = await receive()
            came += len(message.get("body", b""))
            if came > LARGEST:
                raise _TooLarge
            return message

        async def sealed(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message["headers"], *_HEADERS]
            await send(message)

        try:
            await self.app(scope, bounded, sealed)
        except _TooLarge:
            await said(413, TOO_LARGE)(scope, receive, send)

    async def _drain(self, receive: Receive) -> None:
        """Read some of the request, so that the browser receives the answer."""
        left = 4 * LARGEST
        while left > 0:
            message = await receive()
            left -= len(message.get("body", b""))
            if message["type"] == "http.disconnect" or not message.get("more_body"):
                return
