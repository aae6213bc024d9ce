"""Requests as the gate reads and answers them: headers, cookies, short forms, and one line of log each."""

from __future__ import annotations

import json
import re
import sys
import time
from collections.abc import Awaitable, Callable, Mapping, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qsl

from app.served.gate_pages import HTML
from app.served.sign_ins import SignedIn

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Asgi = Callable[[Message, Receive, Send], Awaitable[None]]

SESSION_HEADER = "x-jointtrench-session"
"""In which the gate tells pages whose request it is; it takes away what a browser sends under this name."""
BESIDE_HEADER = "x-jointtrench-beside"
"""In which it tells the sessions of the same browser, with the one before; taken away from a browser as well."""
FORM_AT_MOST = 4096
PAGE = re.compile(r"/[a-z-]{0,40}")


def log_line(record: Mapping[str, object]) -> None:
    """Write a record as one line of JSON on the standard error."""
    print(json.dumps({"at": round(time.time(), 3), **record}, ensure_ascii=False), file=sys.stderr, flush=True)


async def read_form(receive: Receive) -> dict[str, str]:
    """Return the fields of a short form; none where it is longer than a code needs, or no text."""
    body, more = b"", True
    while more and len(body) <= FORM_AT_MOST:
        message = await receive()
        body += message.get("body", b"")
        more = message["type"] == "http.request" and bool(message.get("more_body"))
    try:
        return dict(parse_qsl(body.decode())) if len(body) <= FORM_AT_MOST else {}
    except (UnicodeDecodeError, ValueError):
        return {}


async def answer(
    send: Send, status: int, body: bytes, *, kind: bytes = HTML, more: list[tuple[bytes, bytes]] | None = None
) -> None:
    """Send a whole answer; `more` are headers beside, or in place of, the usual ones."""
    headers = {b"content-type": kind, b"content-length": str(len(body)).encode(), b"cache-control": b"no-store"}
    said = more or []
    kept = [(name, value) for name, value in headers.items() if name not in dict(said)]
    await send({"type": "http.response.start", "status": status, "headers": [*kept, *said]})
    await send({"type": "http.response.body", "body": body})


def header_of(scope: Message, name: bytes) -> str:
    """Return a header that is there once; '' for none, and for several, which nobody sends in earnest."""
    found = [v for k, v in scope["headers"] if k.lower() == name]
    return found[0].decode("latin-1") if len(found) == 1 else ""


def cookie_of(scope: Message, name: str) -> str:
    """Return what a browser keeps under a name; '' for nothing."""
    try:
        found = SimpleCookie(header_of(scope, b"cookie")).get(name)
    except CookieError:
        return ""
    return found.value if found is not None else ""


def set_cookie(name: str, value: str, for_seconds: int) -> bytes:
    """Return what lets a browser keep a value, out of reach of scripts and of other sites' requests."""
    return f"{name}={value}; Path=/; Max-Age={for_seconds}; Secure; HttpOnly; SameSite=Lax".encode()


def asked_site(scope: Message) -> str:
    """Return the site that the address of a page names; '' for none."""
    if scope["type"] != "http" or scope["method"] != "GET" or not PAGE.fullmatch(scope["path"]):
        return ""
    asked: dict[str, str] = dict(parse_qsl(scope.get("query_string", b"").decode("latin-1")))
    return asked.get("site", "")


def told_whose(scope: Message, known: SignedIn, beside: list[SignedIn]) -> Message:
    """Return a request with the sessions it is of, whatever the browser said about that."""
    kept = [(k, v) for k, v in scope["headers"] if not k.lower().replace(b"_", b"-").startswith(b"x-jointtrench")]
    others = ",".join(one.id for one in beside)
    named = [(SESSION_HEADER.encode(), known.id.encode()), (BESIDE_HEADER.encode(), others.encode())]
    return {**scope, "headers": [*kept, *named]}


def client_of(scope: Message) -> str:
    """Return the address that a request comes from; '' where nobody says."""
    return str(scope["client"][0]) if scope.get("client") else ""
