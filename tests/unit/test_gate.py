"""The gate before the dashboard: without a session nothing but sign-in and health, whatever is asked for."""

from __future__ import annotations

import asyncio
import re
import secrets
from collections.abc import Coroutine, Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine
from streamlit.web.server.starlette import starlette_app

from app.served.gate import COOKIE, JOB, Gate, GateRules
from app.served.gate_requests import BESIDE_HEADER, SESSION_HEADER
from app.served.installed import FILES
from app.served.sign_ins import SignIns

HOST, URL = "trench.example", "https://trench.example"
SECRET = "a secret for tests only, long enough to sign with"
CODE = "green 42 pipe"


def in_a_thread(coroutine: Coroutine[object, object, None]) -> None:
    """Run a coroutine to its end where no other loop runs: a browser's may in this one."""
    with ThreadPoolExecutor(1) as pool:
        pool.submit(asyncio.run, coroutine).result()


class Inside:
    """Stands for the dashboard, and notes what reaches it."""

    def __init__(self) -> None:
        self.seen: list[Mapping[str, Any]] = []
        self.heard: list[Mapping[str, Any]] = []

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        self.seen.append(scope)
        if scope["type"] == "websocket":
            while (message := await receive())["type"] != "websocket.disconnect":
                self.heard.append(message)
            return
        body = b""
        while (message := await receive())["type"] == "http.request":
            body += message["body"]
            if not message.get("more_body"):
                break
        await send({"type": "http.response.start", "status": 200, "headers": [(b"x-frame-options", b"SAMEORIGIN")]})
        await send({"type": "http.response.body", "body": b"inside"})


class Front:
    """A gate with its dashboard, asked in this process."""

    def __init__(self, folder: Path, rate: int = 600) -> None:
        self.ins = SignIns(create_engine(f"sqlite:///{folder / 'in.db'}"), SECRET)
        self.inside, self.roles = Inside(), {"c-dunn": "inspector", "r-amsel": "general_contractor"}
        self.logged: list[Mapping[str, object]] = []
        still = lambda known: self.roles.get(known.person) == known.role and known.site == "lane"  # noqa: E731
        self.gate = Gate(
            self.inside, self.ins, GateRules(URL, HOST, 1000, rate), still=still, log=self.logged.append, files=FILES
        )

    def ask(
        self,
        path: str,
        method: str = "GET",
        *,
        body: bytes = b"",
        client: str = "9.9.9.9",
        query: str = "",
        **headers: str,
    ) -> tuple[int, dict[str, str], bytes]:
        sent: list[Any] = []
        named = {"host": HOST, **({"origin": URL} if method != "GET" else {}), **headers}
        scope = {"type": "http", "method": method, "path": path, "client": (client, 1), "query_string": query.encode()}
        scope["headers"] = [(k.encode(), v.encode()) for k, v in named.items()]

        async def receive() -> Any:
            return {"type": "http.request", "body": body, "more_body": False}

        async def send(message: Any) -> None:
            sent.append(message)

        in_a_thread(self.gate(scope, receive, send))
        head = {k.decode(): v.decode() for k, v in sent[0]["headers"]}
        return sent[0]["status"], head, b"".join(m["body"] for m in sent[1:])

    def socket(self, messages: list[Any], path: str = "/_stcore/stream", **headers: str) -> list[Any]:
        sent: list[Any] = []
        scope = {"type": "websocket", "path": path, "client": ("9.9.9.9", 1)}
        scope["headers"] = [(k.encode(), v.encode()) for k, v in {"host": HOST, "origin": URL, **headers}.items()]
        queue = iter([{"type": "websocket.connect"}, *messages, {"type": "websocket.disconnect"}])

        async def receive() -> Any:
            message = next(queue)
            return message() if callable(message) else message

        async def send(message: Any) -> None:
            sent.append(message)

        in_a_thread(self.gate(scope, receive, send))
        return sent

    def signed_in(self, person: str = "c-dunn", *, code: bool = True) -> str:
        """Open a link as a browser does; return the cookie."""
        link, number = self.ins.invite("lane", person, self.roles[person])
        assert self.ask(f"/in/{link}")[0] == 200
        status, head, _ = self.ask(f"/in/{link}", "POST", body=f"number={number}".encode())
        assert (status, head["location"]) == (303, "/code")
        assert all(word in head["set-cookie"] for word in ("Secure", "HttpOnly", "SameSite=Lax", "Path=/"))
        cookie = head["set-cookie"].partition(";")[0]
        if code:
            assert self.ask("/code", "POST", body=f"code={CODE}&again={CODE}".encode(), cookie=cookie)[0] == 303
        return cookie


@pytest.fixture
def front(tmp_path: Path) -> Front:
    return Front(tmp_path)


def streamlit_addresses() -> list[str]:
    """Return every address that the installed Streamlit answers, from its own sources."""
    folder = Path(starlette_app.__file__).parent
    named = {m for p in folder.glob("*.py") for m in re.findall(r'"/?(_stcore/[\w/-]+|[a-z_]+/[\w/-]*)', p.read_text())}
    assert any("_stcore/health" in n for n in named)
    return sorted(named)


def test_a_scan_without_a_session_gives_sign_in_and_health_only(front: Front) -> None:
    pages = ["", "today", "record", "inspections", "site-editor", "static/js/index.js", "media/x.pdf", "component/a"]
    more = [
        "_stcore/stream",
        "_stcore/metrics",
        "_stcore/upload_file/a/b",
        "oauth2callback",
        "auth/login",
        "in",
        "code",
    ]
    more += [address.removeprefix("/") for address in FILES]
    for path in [*pages, *more, *streamlit_addresses(), "../etc/passwd", "healthz/", "in/", "in/x", "in/../today"]:
        for method in ("GET", "POST", "PUT", "DELETE", "OPTIONS", "HEAD"):
            status, head, body = front.ask(f"/{path}", method)
            assert status in (400, 401, 403), path
            assert b"inside" not in body
            assert "frame-ancestors 'none'" in head["content-security-policy"]
    assert front.inside.seen == []
    assert front.ask("/healthz")[::2] == (200, b"ok\n")
    assert front.ask("/readyz")[0] == 200


def test_whoever_is_signed_in_gets_the_dashboard_and_what_it_is_told_is_ours(front: Front) -> None:
    cookie = front.signed_in()
    forged = {SESSION_HEADER: "somebody else", "x-jointtrench_session": "somebody else"}
    status, head, body = front.ask("/record", cookie=cookie, **forged)
    assert (status, body) == (200, b"inside")
    assert head["x-frame-options"] == "DENY"
    assert head["x-content-type-options"] == "nosniff"
    told = [v for k, v in front.inside.seen[-1]["headers"] if k.startswith(b"x-jointtrench")]
    assert [front.ins.session(v.decode()).person for v in told] == ["c-dunn", "c-dunn"]  # type: ignore[union-attr]
    for path in ("/_stcore/metrics", "/_stcore/agent", "/auth/login", "/nothing/here", "/static/../x"):
        assert front.ask(path, cookie=cookie)[0] == 404


def test_whoever_is_signed_in_gets_what_installs_the_page_from_the_gate_itself(front: Front) -> None:
    cookie = front.signed_in()
    for address, (kind, content) in FILES.items():
        status, head, body = front.ask(address, cookie=cookie)
        assert (status, head["content-type"], body) == (200, kind.decode(), content)
        assert head["x-content-type-options"] == "nosniff"
        assert head["cache-control"] == "no-cache"
    assert front.inside.seen == []


def test_without_a_code_nothing_is_let_through(front: Front) -> None:
    cookie = front.signed_in(code=False)
    assert front.ask("/", cookie=cookie)[1]["location"] == "/code"
    assert front.socket([], cookie=cookie) == [{"type": "websocket.close", "code": 1008}]
    for body in (b"code=short&again=short", b"code=green 42 pipe&again=other", b"\xff", b"code=" + b"x" * 9000):
        assert front.ask("/code", "POST", body=body, cookie=cookie)[0] == 400
    assert front.inside.seen == []


def test_stolen_used_and_foreign_links_are_refused(front: Front) -> None:
    link, number = front.ins.invite("lane", "c-dunn", "inspector")
    said = f"number={number}".encode()
    status, _, page = front.ask(f"/in/{link}", "POST", client="6.6.6.6")
    assert (status, b"That is not the number" in page) == (403, True), "stolen before it was opened"
    assert front.ask(f"/in/{link}", "POST", body=said)[0] == 303
    assert front.ask(f"/in/{link}", "POST", body=said, client="6.6.6.6")[0] == 403
    for site, role in (("street", "inspector"), ("lane", "utility")):
        other, number = front.ins.invite(site, "c-dunn", role)
        assert front.ask(f"/in/{other}", "POST", body=f"number={number}".encode())[0] == 403
        assert front.ins.whose(other) is not None, "a refused link is not used up"


def test_ten_thousand_guessed_addresses_are_refused(front: Front) -> None:
    answered = set()
    for n in range(10_000):
        client = f"{n >> 8}.{n & 255}.1.1"
        if n % 2:
            answered.add(front.ask(f"/in/{secrets.token_urlsafe(40)}", "POST", client=client)[0])
        else:
            answered.add(front.ask("/", cookie=f"{COOKIE}={secrets.token_urlsafe(32)}", client=client)[0])
    assert answered == {401, 403}
    assert front.inside.seen == []


def test_links_are_tried_so_often_and_no_more(tmp_path: Path) -> None:
    front = Front(tmp_path, rate=5)
    assert [front.ask("/in/guess")[0] for _ in range(7)] == [403] * 5 + [429] * 2
    assert front.ask("/in/guess", client="8.8.8.8")[0] == 403


def test_other_hosts_and_other_pages_are_refused(front: Front) -> None:
    cookie = front.signed_in()
    assert front.ask("/", cookie=cookie, host="evil.example")[0] == 400
    for origin in ("https://evil.example", "null", "", "http://trench.example"):
        assert front.ask("/out", "POST", cookie=cookie, origin=origin)[0] == 403
        assert front.socket([], cookie=cookie, origin=origin) == [{"type": "websocket.close", "code": 1008}]
    assert front.socket([], cookie=cookie, host="evil.example")
    assert front.socket([], path="/other", cookie=cookie)
    assert front.inside.seen == []


def test_an_open_page_closes_when_its_person_is_revoked_or_changes_role(front: Front) -> None:
    cookie = front.signed_in()
    said = {"type": "websocket.receive", "bytes": b"rerun"}
    assert front.socket([said], cookie=cookie) == []
    assert said in front.inside.heard

    def revoked() -> Any:
        front.ins.revoke("lane", "c-dunn")
        return said

    front.inside.heard.clear()
    assert front.socket([said, revoked, said], cookie=cookie) == [{"type": "websocket.close", "code": 1008}]
    assert front.inside.heard.count(said) == 1
    assert front.ask("/", cookie=cookie)[0] == 401
    cookie = front.signed_in("r-amsel")
    front.roles["r-amsel"] = "trade"
    assert front.ask("/", cookie=cookie)[0] == 401


def test_a_page_sends_nothing_to_somebody_who_was_revoked(front: Front, monkeypatch: pytest.MonkeyPatch) -> None:
    async def page(scope: Any, receive: Any, send: Any) -> None:
        await send({"type": "websocket.send", "text": "dates"})
        front.ins.revoke("lane", "c-dunn")
        await send({"type": "websocket.send", "text": "secret"})
        await send({"type": "websocket.send", "text": "more"})

    monkeypatch.setattr("app.served.gate.LOOK_AGAIN_S", 0.0)
    cookie = front.signed_in()
    front.gate._app = page
    sent = front.socket([], cookie=cookie)
    assert sent == [{"type": "websocket.send", "text": "dates"}, {"type": "websocket.close", "code": 1008}]


def test_signing_out_ends_the_session_and_long_bodies_break_off(front: Front) -> None:
    cookie = front.signed_in()
    assert front.ask("/_stcore/upload_file/a/b", "PUT", cookie=cookie, body=b"x" * 1001)[0] == 200
    assert front.ask("/out", "POST", cookie=cookie)[0] == 200
    assert front.ask("/", cookie=cookie)[0] == 401


def test_the_log_tells_no_secrets(front: Front) -> None:
    cookie = front.signed_in()
    front.ask("/media/abc.pdf", cookie=cookie)
    said = str(front.logged)
    assert "/in/…" in said
    assert "c-dunn" in said
    assert cookie.partition("=")[2] not in said
    assert CODE not in said
    assert "abc.pdf" not in said


def opened(front: Front, site: str, person: str, cookie: str = "") -> str:
    """Open a link to a site in a browser that keeps a cookie; return what it keeps of sessions then."""
    link, number = front.ins.invite(site, person, front.roles[person])
    status, head, _ = front.ask(f"/in/{link}", "POST", body=f"number={number}".encode(), cookie=cookie)
    assert status == 303
    return head["set-cookie"].partition(";")[0]


def told(front: Front) -> tuple[str, str, int]:
    """Return site and person of the request that came through last, and how many sessions it named beside."""
    head = dict(front.inside.seen[-1]["headers"])
    known = front.ins.session(head[SESSION_HEADER.encode()].decode())
    assert known is not None
    return known.site, known.person, len(head[BESIDE_HEADER.encode()].split(b","))


@pytest.fixture
def firm(front: Front) -> Front:
    """A gate before two sites with the same people, each known by their id."""
    front.gate._still = lambda known: front.roles.get(known.person) == known.role
    front.gate._same = lambda one, other: one.person == other.person
    return front


def with_code(front: Front, cookie: str) -> None:
    assert front.ask("/code", "POST", body=f"code={CODE}&again={CODE}".encode(), cookie=cookie)[0] == 303


def test_one_browser_holds_two_jobs_of_one_human_and_each_page_is_of_one(firm: Front) -> None:
    lane = opened(firm, "lane", "c-dunn")
    with_code(firm, lane)
    both = opened(firm, "row", "c-dunn", lane)
    assert len(both.partition("=")[2].split(".")) == 2
    with_code(firm, f"{both}; {JOB}=row")
    for job, query, site in (("row", "", "row"), ("lane", "", "lane"), ("row", "site=lane", "lane"), ("no", "", "row")):
        status, head, _ = firm.ask("/record", cookie=f"{both}; {JOB}={job}", query=query)
        assert status == 200
        assert told(firm) == (site, "c-dunn", 2)
        assert (JOB in head.get("set-cookie", "")) == bool(query)
    firm.ask("/record", cookie=f"{both}; {JOB}=row", query="site=elsewhere")
    assert told(firm)[0] == "row"
    firm.ins.revoke("row", "c-dunn")
    firm.ask("/record", cookie=f"{both}; {JOB}=row")
    assert told(firm) == ("lane", "c-dunn", 1)
    assert firm.ask("/out", "POST", cookie=both)[0] == 200
    assert firm.ask("/record", cookie=both)[0] == 401


def test_an_open_page_never_becomes_one_of_another_job(firm: Front) -> None:
    both = opened(firm, "row", "c-dunn", opened(firm, "lane", "c-dunn"))
    for job in ("lane", "row"):
        with_code(firm, f"{both}; {JOB}={job}")

    def revoked() -> object:
        firm.ins.revoke("row", "c-dunn")
        return {"type": "websocket.receive", "text": "too late"}

    sent = firm.socket([revoked], cookie=f"{both}; {JOB}=row")
    assert sent[-1] == {"type": "websocket.close", "code": 1008}
    assert firm.inside.heard == [{"type": "websocket.connect"}]


def test_a_link_of_somebody_else_leaves_nothing_of_who_was_there_before(firm: Front) -> None:
    before = opened(firm, "lane", "r-amsel")
    after = opened(firm, "row", "c-dunn", before)
    assert "." not in after.partition("=")[2]
    with_code(firm, after)
    firm.ask("/record", cookie=after, query="site=lane")
    assert told(firm) == ("row", "c-dunn", 1)


def test_a_new_link_takes_the_place_of_the_one_before_on_the_same_job(firm: Front) -> None:
    before = opened(firm, "lane", "c-dunn")
    after = opened(firm, "lane", "c-dunn", before)
    assert firm.ask("/code", cookie=before)[0] == 401
    assert firm.ask("/code", cookie=after)[0] == 200


def test_a_link_to_an_archived_job_says_so_and_is_not_used_up(firm: Front) -> None:
    link, number = firm.ins.invite("lane", "c-dunn", "inspector")
    firm.gate._archived = lambda site: site == "lane"
    for method, body in (("GET", b""), ("POST", f"number={number}".encode())):
        status, _, page = firm.ask(f"/in/{link}", method, body=body)
        assert (status, b"archived" in page) == (403, True)
    firm.gate._archived = lambda _: None
    assert firm.ask(f"/in/{link}", "POST", body=f"number={number}".encode())[0] == 303
