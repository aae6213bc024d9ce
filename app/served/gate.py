"""The gate before the dashboard: without a session nothing but sign-in, health, and calendars by their secrets.

It stands before Streamlit for requests and WebSockets alike. What is not on the list of what passes is refused.
"""

from __future__ import annotations

import asyncio
import hashlib
import re
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from urllib.parse import parse_qsl

from limits import RateLimitItemPerMinute
from limits.storage import MemoryStorage
from limits.strategies import MovingWindowRateLimiter

from app.served.accounts import ASKED_S, BACK, Accounts
from app.served.gate_pages import code_page, link_page, refused_page, seconds
from app.served.gate_requests import (
    Asgi,
    Message,
    Receive,
    Send,
    answer,
    asked_site,
    client_of,
    cookie_of,
    header_of,
    log_line,
    read_form,
    set_cookie,
    told_whose,
)
from app.served.one_browser import kept_as, sessions_by, tokens_in
from app.served.sign_ins import SignedIn, SignIns

COOKIE = "__Host-jointtrench"
"""The browser takes a cookie of this prefix only with Secure, for this host alone and for all of it."""
JOB = "__Host-jointtrench-job"
"""Which of its jobs a browser looks at; no secret."""
ASKED = "__Host-jointtrench-asked"
"""What a browser keeps while somebody is at the provider of their account."""
ACCOUNT = "/account"
CALENDAR = "/calendar/"
LOOK_AGAIN_S = 1.0
"""How often it is looked whether a page that is sent things may stay open; what is known then may be a second old."""
PASSES = re.compile(
    r"/(?:[a-z-]{0,40}|static/.+|media/.+|component/.+|favicon\.\w+|manifest\.json"
    r"|_stcore/(?:stream|health|host-config|upload_file/.+|bidi-components/.+))"
)
"""The addresses of the dashboard that somebody signed in may open."""
POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self' {socket}; worker-src 'self' blob:; "
    "object-src 'none'; base-uri 'self'; form-action 'self'; frame-ancestors 'none'"
)
"""Streamlit writes styles and a script into its page, and runs the scripts of components from blobs."""


@dataclass(frozen=True, slots=True)
class GateRules:
    """What the gate goes by."""

    public_url: str
    host: str
    body_at_most: int
    sign_ins_per_minute: int


class Gate:
    """Lets requests of people who are signed in through to the dashboard.

    `still` tells whether somebody still has, by the site file, the role that they were let in with. `ready` tells
    whether the server can answer. `calendars` gives the calendar at an address by its secret: None where there is none,
    b"" where it cannot be made just now. `files` are answered by the gate to whoever is signed in: by address, media
    type and content. `accounts` asks a provider who somebody is; `known_as` tells sites, people and roles of a mail
    address. `same` tells whether two sessions are of one human, whose browser may hold both; without it none may.
    `archived` tells whether a site is, whose links open nothing then.
    `log` is given one record a request, without secrets.
    """

    def __init__(
        self,
        app: Asgi,
        sign_ins: SignIns,
        rules: GateRules,
        *,
        still: Callable[[SignedIn], bool],
        ready: Callable[[], bool] = lambda: True,
        calendars: Callable[[str], bytes | None] = lambda _: None,
        files: Mapping[str, tuple[bytes, bytes]] | None = None,
        accounts: Accounts | None = None,
        known_as: Callable[[str], list[tuple[str, str, str]]] = lambda _: [],
        same: Callable[[SignedIn, SignedIn], bool] = lambda *_: False,
        archived: Callable[[str], object] = lambda _: None,
        log: Callable[[Mapping[str, object]], None] | None = None,
    ) -> None:
        self._app, self._sign_ins, self._rules, self._still, self._ready = app, sign_ins, rules, still, ready
        self._log, self._calendars, self._files = log or log_line, calendars, files or {}
        self._accounts, self._known_as = accounts, known_as
        self._same, self._archived = same, archived
        self._limiter = MovingWindowRateLimiter(MemoryStorage())
        self._rate = RateLimitItemPerMinute(rules.sign_ins_per_minute)
        self._policy = POLICY.format(socket=f"wss://{rules.host}")

    async def __call__(self, scope: Message, receive: Receive, send: Send) -> None:
        """Answer a request, or let it through."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
        elif scope["type"] == "websocket":
            await self._socket(scope, receive, send)
        elif scope["type"] == "http":
            await self._request(scope, receive, send)

    async def _socket(self, scope: Message, receive: Receive, send: Send) -> None:
        known, beside = self._known(scope)
        if not (self._host_is_ours(scope) and self._origin_is_ours(scope) and scope["path"] == "/_stcore/stream"):
            known = None
        if known is None or not self._sign_ins.has_code(known):
            await receive()
            await send({"type": "websocket.close", "code": 1008})
            return

        looked, closed = time.monotonic(), False

        async def watched() -> Message:
            message = await receive()
            if message["type"] == "websocket.receive" and not self._stays(scope, known):  # signed out, or revoked
                await send({"type": "websocket.close", "code": 1008})
                return {"type": "websocket.disconnect", "code": 1008}
            return message

        async def shown(message: Message) -> None:
            """Send what a page shows, to nobody who may see it no more; a page is many messages in a moment."""
            nonlocal looked, closed
            if message["type"] == "websocket.send" and not closed and time.monotonic() - looked >= LOOK_AGAIN_S:
                closed = not self._stays(scope, known)
                looked = time.monotonic()
                message = {"type": "websocket.close", "code": 1008} if closed else message
                await send(message)
            elif not closed:
                await send(message)

        await self._app(told_whose(scope, known, beside), watched, shown)

    async def _request(self, scope: Message, receive: Receive, send: Send) -> None:
        began, path, method = time.monotonic(), scope["path"], scope["method"]
        status = 0
        known: SignedIn | None = None
        chosen: list[tuple[bytes, bytes]] = []

        async def noted(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                kept = [(k, v) for k, v in message.get("headers", []) if k.lower() not in self._headers]
                message = {**message, "headers": [*kept, *self._headers.items(), *chosen]}
            await send(message)

        try:
            if path in ("/healthz", "/readyz"):
                good = path == "/healthz" or self._ready()
                await answer(noted, 200 if good else 503, b"ok\n" if good else b"not ready\n", kind=b"text/plain")
                return
            if not self._host_is_ours(scope) or method not in ("GET", "HEAD", "POST", "PUT", "DELETE"):
                await answer(noted, 400, refused_page("This address is not served here."))
                return
            if method not in ("GET", "HEAD") and not self._origin_is_ours(scope):
                await answer(noted, 403, refused_page("This was sent from another page."))
                return
            if path.startswith(CALENDAR) and method in ("GET", "HEAD"):
                await self._calendar(scope, noted, path.removeprefix(CALENDAR).removesuffix(".ics"))
                return
            known, beside = self._known(scope)
            if known is not None and known.site == asked_site(scope) != cookie_of(scope, JOB):
                chosen.append((b"set-cookie", set_cookie(JOB, known.site, seconds())))
            if path.startswith("/in/"):
                await self._link(scope, receive, noted, path.removeprefix("/in/"))
            elif path in (ACCOUNT, BACK) and method == "GET" and self._accounts is not None:
                await self._account(scope, noted, self._accounts)
            elif known is None:
                way = ACCOUNT if self._accounts is not None else ""
                words = "Nobody is signed in here. Ask the contractor for your link."
                await answer(noted, 401, refused_page(words, way))
            elif path in ("/code", "/out") or not self._sign_ins.has_code(known):
                await self._code(scope, receive, noted, known, beside)
            elif path in self._files:
                kind, content = self._files[path]
                await answer(noted, 200, content, kind=kind, more=[(b"cache-control", b"no-cache")])
            elif PASSES.fullmatch(path) is None or ".." in path:
                await answer(noted, 404, refused_page("There is no such page."))
            else:
                await self._app(told_whose(scope, known, beside), self._limited(receive), noted)
        finally:
            secret = next((start for start in ("/in/", CALENDAR) if path.startswith(start)), "")
            shown = f"{secret}…" if secret else re.sub(r"(upload_file|media)/.*", r"\1/…", path)
            who = {"site": known.site, "person": known.person} if known else {}
            took = round(1000 * (time.monotonic() - began))
            self._log({"method": method, "path": shown, "status": status, "ms": took, "from": client_of(scope), **who})

    async def _calendar(self, scope: Message, send: Send, secret: str) -> None:
        """Give the calendar at an address; every address that there is not, for whatever reason, is one plain 404."""
        wrong = "calendar", client_of(scope)
        if not self._limiter.test(self._rate, *wrong):
            await answer(send, 429, b"too many wrong addresses\n", kind=b"text/plain")
            return
        content = await asyncio.to_thread(self._calendars, secret)
        if content is None:
            self._limiter.hit(self._rate, *wrong)
            await answer(send, 404, b"not found\n", kind=b"text/plain")
        elif not content:  # whoever subscribed keeps what they have
            await answer(send, 503, b"not just now\n", kind=b"text/plain", more=[(b"retry-after", b"600")])
        else:
            tag = f'"{hashlib.sha256(content).hexdigest()[:32]}"'.encode()
            same = tag.decode() in header_of(scope, b"if-none-match")
            kind, kept = b"text/calendar; charset=utf-8", [(b"etag", tag), (b"cache-control", b"private, no-cache")]
            body = b"" if same or scope["method"] == "HEAD" else content
            await answer(send, 304 if same else 200, body, kind=kind, more=kept)

    async def _account(self, scope: Message, send: Send, accounts: Accounts) -> None:
        """Send somebody to their provider, or let them in where the site file has the address of their account."""
        if not self._limiter.hit(self._rate, "account", client_of(scope)):
            await answer(send, 429, refused_page("Too many tries. Wait a minute."))
            return
        if scope["path"] == ACCOUNT:
            asked = await asyncio.to_thread(accounts.ask)
            if asked is None:
                await answer(send, 503, refused_page("Your firm's sign-in cannot be reached just now."))
                return
            kept = set_cookie(ASKED, asked.kept, ASKED_S)
            await answer(send, 303, b"", more=[(b"location", asked.address.encode()), (b"set-cookie", kept)])
            return
        said = dict(parse_qsl(scope.get("query_string", b"").decode("latin-1")))
        mail = await asyncio.to_thread(accounts.mail_of, cookie_of(scope, ASKED), said)
        found = self._known_as(mail) if mail else []
        if not found:
            page = refused_page("Your account is nobody's here. Ask the contractor for a link.")
            await answer(send, 403, page, more=[(b"set-cookie", set_cookie(ASKED, "", 0))])
            return
        kept = set_cookie(COOKIE, kept_as(self._sign_ins.admit(*one) for one in found), seconds())
        await answer(send, 303, b"", more=[(b"location", b"/code"), (b"set-cookie", kept)])

    async def _link(self, scope: Message, receive: Receive, send: Send, link: str) -> None:
        if not self._limiter.hit(self._rate, "link", client_of(scope)):
            await answer(send, 429, refused_page("Too many tries. Wait a minute."))
            return
        whose = self._sign_ins.whose(link)
        if whose is None or not self._still(whose):
            await answer(send, 403, refused_page("This link opens nothing any more. Ask the contractor for another."))
        elif self._archived(whose.site):
            await answer(send, 403, refused_page("This job is archived. Its links open once it is taken back."))
        elif scope["method"] != "POST":  # programs that look at links before people do use none up
            await answer(send, 200, link_page(whose.person, whose.site))
        else:
            token = self._sign_ins.open(link, (await read_form(receive)).get("number", ""))
            if token is None:
                again = "That is not the number. After five wrong ones the link opens nothing any more."
                await answer(send, 403, link_page(whose.person, whose.site, again))
                return
            kept, job = self._beside(scope, whose, token), set_cookie(JOB, whose.site, seconds())
            await answer(send, 303, b"", more=[(b"location", b"/code"), (b"set-cookie", job), (b"set-cookie", kept)])

    def _beside(self, scope: Message, whose: SignedIn, token: str) -> bytes:
        """Return what a browser keeps that has just opened a link: jobs of the same human, nothing of others'."""
        kept = [token]
        for before in tokens_in(cookie_of(scope, COOKIE)):
            known = self._sign_ins.signed_in(before)
            if known is None or not self._still(known):
                continue
            if known.site != whose.site and self._same(known, whose):
                kept.append(before)
            elif (known.site, known.person) == (whose.site, whose.person):  # the new link takes the place of the old
                self._sign_ins.end(known.id)
        return set_cookie(COOKIE, kept_as(kept), seconds())

    async def _code(
        self, scope: Message, receive: Receive, send: Send, known: SignedIn, beside: list[SignedIn]
    ) -> None:
        """Ask for the code of their own at first sign-in, or sign out; nothing else is let through before that."""
        chosen = self._sign_ins.has_code(known)
        if scope["path"] == "/out" and scope["method"] == "POST":
            for each in beside:
                self._sign_ins.end(each.id)
            gone = set_cookie(COOKIE, "", 0)
            await answer(send, 200, refused_page("You are signed out."), more=[(b"set-cookie", gone)])
        elif scope["path"] == "/code" and scope["method"] == "POST" and not chosen:
            form = await read_form(receive)
            code, again = form.get("code", ""), form.get("again", "")
            if code == again and self._sign_ins.choose_code(known.id, code):
                await answer(send, 303, b"", more=[(b"location", b"/")])
            else:
                await answer(send, 400, code_page("Type the same code twice, 6 to 64 characters."))
        elif chosen:
            await answer(send, 303, b"", more=[(b"location", b"/")])
        elif scope["path"] == "/code":
            await answer(send, 200, code_page(""))
        else:
            await answer(send, 303, b"", more=[(b"location", b"/code")])

    def _known(self, scope: Message) -> tuple[SignedIn | None, list[SignedIn]]:
        """Return who is signed in, if the site file still gives them their role, and all sessions of the browser.

        Each is of its own site. Which of them it is says the address where it names one, else what was open last. The
        others are judged anew by whoever looks at them: a site file may not be readable just now.
        """
        every = self._sessions(scope)
        found = [known for known in every if self._still(known)]
        by_site = {known.site: known for known in found}
        known = by_site.get(asked_site(scope)) or by_site.get(cookie_of(scope, JOB)) or next(iter(found), None)
        if known is not None:
            self._sign_ins.note_seen(known.id)
        return known, every

    def _stays(self, scope: Message, known: SignedIn) -> bool:
        """Tell whether an open page may stay open for the very session that opened it."""
        if not any(one.id == known.id for one in self._sessions(scope)) or not self._still(known):
            return False
        self._sign_ins.note_seen(known.id)
        return True

    def _sessions(self, scope: Message) -> list[SignedIn]:
        return sessions_by(self._sign_ins, tokens_in(cookie_of(scope, COOKIE)))

    def _host_is_ours(self, scope: Message) -> bool:
        return header_of(scope, b"host").lower() == self._rules.host

    def _origin_is_ours(self, scope: Message) -> bool:
        return header_of(scope, b"origin").lower() == self._rules.public_url

    def _limited(self, receive: Receive) -> Receive:
        """Give a request's body up to what may be uploaded; a longer one breaks off."""
        taken = 0

        async def limited() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            return message if taken <= self._rules.body_at_most else {"type": "http.disconnect"}

        return limited

    @property
    def _headers(self) -> dict[bytes, bytes]:
        return {
            b"content-security-policy": self._policy.encode(),
            b"x-content-type-options": b"nosniff",
            b"x-frame-options": b"DENY",
            b"referrer-policy": b"same-origin",
            b"strict-transport-security": b"max-age=31536000",
        }
