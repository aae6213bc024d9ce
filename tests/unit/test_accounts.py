"""Sign-in with a firm's account, against a provider on this machine: what is shown to be somebody, and what is not."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import parse_qsl, urlsplit

import pytest
import requests
from joserfc.jwk import RSAKey

from app.served.accounts import ASKED_S, BACK, Accounts
from app.served.gate import ACCOUNT, ASKED
from app.served.served_settings import AccountsPart
from tests.account_provider import CLIENT, CLIENT_SECRET, AccountProvider, provide_accounts
from tests.unit.test_gate import CODE, URL, Front

SAM = ("lane", "s-wirth", "utility")


@pytest.fixture(scope="module")
def running() -> Iterator[AccountProvider]:
    with provide_accounts() as provider:
        yield provider


@pytest.fixture
def provider(running: AccountProvider) -> AccountProvider:
    running.mail, running.lies, running.signs_with = "sam@valley-power.example", {}, running.key
    return running


@pytest.fixture
def accounts(provider: AccountProvider) -> Accounts:
    settings = AccountsPart(issuer=provider.issuer, client_id=CLIENT, client_secret_file=Path("unused"))
    return Accounts(settings, CLIENT_SECRET, URL)


def back(address: str) -> dict[str, str]:
    """Say yes at the provider; return the fields of the address to which it sends the browser."""
    sent = requests.get(address, allow_redirects=False, timeout=10).headers["Location"]
    assert sent.startswith(f"{URL}{BACK}?")
    return dict(parse_qsl(urlsplit(sent).query))


def mail(accounts: Accounts) -> str | None:
    asked = accounts.ask()
    assert asked is not None
    return accounts.mail_of(asked.kept, back(asked.address))


def test_a_verified_address_is_told(accounts: Accounts, provider: AccountProvider) -> None:
    assert mail(accounts) == "sam@valley-power.example"
    provider.mail = "Sam@Valley-Power.example"
    assert mail(accounts) == "sam@valley-power.example"


@pytest.mark.parametrize(
    "lies",
    [
        {"email_verified": False},
        {"email_verified": "true"},
        {"email": None},
        {"iss": "https://another.example"},
        {"aud": "another-server"},
        {"aud": [CLIENT, "another-server"]},
        {"aud": [CLIENT, "another-server"], "azp": "another-server"},
        {"nonce": "of another question"},
        {"nonce": None},
        {"exp": 1_000_000_000},  # long over
        {"exp": None},
        {"sub": None},
    ],
    ids=str,
)
def test_no_token_but_a_right_one_shows_anything(
    accounts: Accounts, provider: AccountProvider, lies: dict[str, object]
) -> None:
    provider.lies = lies
    assert mail(accounts) is None


def test_another_key_another_question_and_what_comes_twice_or_late_show_nothing(
    accounts: Accounts, provider: AccountProvider, monkeypatch: pytest.MonkeyPatch
) -> None:
    provider.signs_with = RSAKey.generate_key(2048, {"kid": "one"})
    assert mail(accounts) is None
    provider.signs_with = provider.key
    one, two = accounts.ask(), accounts.ask()
    assert one is not None
    assert two is not None
    said = back(one.address)
    assert accounts.mail_of(two.kept, said) is None, "the answer to another browser's question"
    assert accounts.mail_of(one.kept + "x", said) is None
    assert accounts.mail_of("", said) is None
    assert accounts.mail_of(one.kept, {**said, "state": "x"}) is None
    assert accounts.mail_of(one.kept, {"error": "access_denied", "state": said["state"]}) is None
    assert accounts.mail_of(one.kept, said) is not None
    assert accounts.mail_of(one.kept, said) is None, "twice"
    late = accounts.ask()
    assert late is not None
    said, now = back(late.address), time.time()
    monkeypatch.setattr("itsdangerous.timed.time.time", lambda: now + ASKED_S + 2)
    assert accounts.mail_of(late.kept, said) is None


def test_a_provider_that_is_away_or_another_is_not_asked(accounts: Accounts, provider: AccountProvider) -> None:
    away = AccountsPart(issuer="http://127.0.0.1:9", client_id=CLIENT, client_secret_file=Path("unused"))
    assert Accounts(away, CLIENT_SECRET, URL).ask() is None
    other = AccountsPart(issuer=f"{provider.issuer}/other", client_id=CLIENT, client_secret_file=Path("unused"))
    assert Accounts(other, CLIENT_SECRET, URL).ask() is None
    with pytest.raises(ValueError, match="https"):
        AccountsPart(issuer="http://login.example", client_id=CLIENT, client_secret_file=Path("unused"))


def test_through_the_gate_an_account_opens_the_site_of_its_address_and_no_other(
    tmp_path: Path, accounts: Accounts, provider: AccountProvider
) -> None:
    front = Front(tmp_path)
    front.roles["s-wirth"] = "utility"
    front.gate._accounts = accounts
    found = {"sam@valley-power.example": [SAM], "both@x.example": [SAM, ("street", "b", "utility")]}
    front.gate._known_as = lambda address: found.get(address, [])
    assert f'href="{ACCOUNT}"'.encode() in front.ask("/")[2]

    def signed_in() -> tuple[int, dict[str, str]]:
        status, head, _ = front.ask(ACCOUNT)
        assert status == 303
        said = back(head["location"])
        cookie = head["set-cookie"].partition(";")[0]
        assert cookie.startswith(f"{ASKED}=")
        query = "&".join(f"{k}={v}" for k, v in said.items())
        return front.ask(BACK, query=query, cookie=cookie)[:2]

    provider.mail = "thief@x.example"
    status, head = signed_in()
    assert status == 403
    assert "Max-Age=0" in head["set-cookie"]
    provider.mail = "both@x.example"
    tokens = signed_in()[1]["set-cookie"].partition(";")[0].partition("=")[2].split(".")
    known = [front.ins.signed_in(t) for t in tokens]
    assert [(k.site, k.person, k.role) for k in known if k] == found["both@x.example"], "each site with its own role"
    provider.mail = "sam@valley-power.example"
    status, head = signed_in()
    assert (status, head["location"]) == (303, "/code")
    cookie = head["set-cookie"].partition(";")[0]
    assert front.ask("/", cookie=cookie)[1]["location"] == "/code", "an account needs a code of their own as well"
    assert front.ask("/code", "POST", body=f"code={CODE}&again={CODE}".encode(), cookie=cookie)[0] == 303
    assert front.ask("/", cookie=cookie)[2] == b"inside"
    known = front.ins.signed_in(cookie.partition("=")[2])
    assert known is not None
    assert (known.person, known.how) == ("s-wirth", "account")
    assert front.ask(BACK, query="code=x&state=y")[0] == 403


def test_without_a_provider_there_is_no_such_address(tmp_path: Path) -> None:
    front = Front(tmp_path)
    assert front.ask(ACCOUNT)[0] == front.ask(BACK)[0] == 401
    assert ACCOUNT.encode() not in front.ask("/")[2]
