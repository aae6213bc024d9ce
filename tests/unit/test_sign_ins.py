"""Personal links open once; codes are the second act, used once and locked after wrong tries."""

from __future__ import annotations

import secrets
import uuid
from pathlib import Path

import pytest
from sqlalchemy import create_engine, event

from app.lately import LATELY_S
from app.served.sign_in_tables import SESSIONS, TABLES
from app.served.sign_ins import ACT_S, DAY_S, LOCKED_S, MOST_TRIES, SESSION_S, SignedIn, SignIns, SignInState
from tests.journals import POSTGRES

SECRET = "a secret for tests only, long enough to sign with"
CODE = "green 42 pipe"


class Clock:
    def __init__(self) -> None:
        self.now = 1_000_000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.mark.skipif(not POSTGRES, reason="no PostgreSQL server is named")
def test_links_numbers_codes_and_second_acts_on_postgresql(clock: Clock) -> None:
    ins, site = SignIns(create_engine(POSTGRES), SECRET, now=clock), uuid.uuid4().hex
    link, number = ins.invite(site, "c-dunn", "inspector")
    assert ins.open(link, "wrong") is None
    known = ins.signed_in(ins.open(link, number) or "")
    assert known is not None
    assert ins.open(link, number) is None
    assert ins.choose_code(known.id, CODE)
    assert not ins.choose_code(known.id, "another code")
    assert ins.confirm(known.id, "wrong", "x") is None
    act = ins.confirm(known.id, CODE, "x")
    assert act is not None
    assert ins.spend(known.id, act, "x")
    assert not ins.spend(known.id, act, "x")
    assert ins.access(site, "c-dunn") == SignInState(None, 1, clock.now, code=True)
    ins.forget_code(site, "c-dunn")
    assert ins.session(known.id) is None


@pytest.fixture
def ins(tmp_path: Path, clock: Clock) -> SignIns:
    return SignIns(create_engine(f"sqlite:///{tmp_path / 'in.db'}"), SECRET, now=clock)


def signed_in(ins: SignIns, person: str = "c-dunn", site: str = "lane") -> SignedIn:
    token = ins.open(*ins.invite(site, person, "inspector"))
    assert token is not None
    known = ins.signed_in(token)
    assert known is not None
    return known


def test_a_link_opens_one_session_for_its_person_and_site(ins: SignIns) -> None:
    link, number = ins.invite("lane", "c-dunn", "inspector")
    assert ins.whose(link) is not None
    assert ins.whose(link) is not None, "looking at it uses nothing up"
    token = ins.open(link, number)
    known = ins.signed_in(token or "")
    assert known is not None
    assert (known.site, known.person, known.role) == ("lane", "c-dunn", "inspector")
    assert ins.open(link, number) is None
    assert ins.whose(link) is None


def test_expired_revoked_and_foreign_links_open_nothing(ins: SignIns, clock: Clock, tmp_path: Path) -> None:
    late, gone = ins.invite("lane", "a", "trade", days=1), ins.invite("lane", "b", "trade")
    assert ins.revoke("lane", "b") == 1
    clock.now += DAY_S
    assert ins.open(*late) is ins.open(*gone) is None
    other = SignIns(create_engine(f"sqlite:///{tmp_path / 'in.db'}"), "another secret, just as long as the first one")
    assert ins.open(*other.invite("lane", "a", "trade")) is None


def test_a_link_alone_opens_nothing_and_five_wrong_numbers_end_it(ins: SignIns) -> None:
    link, number = ins.invite("lane", "c-dunn", "inspector")
    wrong = f"{(int(number) + 1) % 10**6:06d}"
    assert [ins.open(link, tried) for tried in ("", wrong, number + "0", "\u0661" * 6)] == [None] * 4
    token = ins.open(link, f"{number[:3]} {number[3:]}")
    assert token is not None, "the fifth try, and with a gap as it is told"
    link, number = ins.invite("lane", "c-dunn", "inspector")
    assert {ins.open(link, wrong) for _ in range(MOST_TRIES)} == {None}
    assert ins.open(link, number) is None
    assert ins.whose(link) is None


def test_the_contractor_sees_how_somebody_stands(ins: SignIns, clock: Clock) -> None:
    assert ins.access("lane", "c-dunn") == SignInState()
    ins.invite("lane", "c-dunn", "inspector", days=2)
    assert ins.access("lane", "c-dunn") == SignInState(links_until=clock.now + 2 * DAY_S)
    known = signed_in(ins)
    ins.choose_code(known.id, CODE)
    signed_in(ins, site="street")
    ins.revoke("lane", "nobody")
    clock.now += 100
    ins.note_seen(known.id)
    assert ins.access("lane", "c-dunn") == SignInState(clock.now - 100 + 2 * DAY_S, 1, clock.now, code=True)
    assert ins.seen_since("lane", 60) == {"c-dunn"}
    clock.now += 61
    assert ins.seen_since("lane", 60) == frozenset()
    ins.forget_code("lane", "c-dunn")
    assert ins.access("lane", "c-dunn") == SignInState(seen=clock.now - 61)


def test_what_was_read_of_a_session_is_rested_on_for_a_moment_and_never_after_it_was_ended_here(
    ins: SignIns, clock: Clock
) -> None:
    here, elsewhere = signed_in(ins, "a"), signed_in(ins, "b")
    other = SignIns(ins.engine, "x" * 64, now=lambda: clock.now)
    for known in (here, elsewhere):
        assert ins.session_lately(known.id) == known
    ins.end(here.id)
    assert ins.session_lately(here.id) is None
    ins.session_lately(elsewhere.id)
    other.revoke("lane", "b")
    assert ins.session_lately(elsewhere.id) == elsewhere, "as it was read just now"
    clock.now += LATELY_S
    assert ins.session_lately(elsewhere.id) is None


def test_what_is_being_read_while_a_session_ends_is_kept_for_nobody(ins: SignIns) -> None:
    known = signed_in(ins)

    def ended_meanwhile() -> object:
        found = ins.session(known.id)
        ins.end(known.id)
        return found

    assert ins.lately.ask(known.id, ended_meanwhile) == known
    assert ins.session_lately(known.id) is None


def test_who_was_heard_of_is_written_together_and_told_at_once(ins: SignIns, clock: Clock) -> None:
    people = [signed_in(ins, name) for name in ("a", "b", "c")]
    clock.now += 100
    ins.note_seen(people[0].id)
    written: list[str] = []
    event.listen(ins.engine, "commit", lambda _: written.append("commit"))
    for known in people:
        ins.note_seen(known.id)
    assert not written, "what is heard within five seconds waits"
    assert ins.seen_since("lane", 60) == {"a", "b", "c"}
    assert len(written) == 1


def test_who_was_heard_of_ends_nobodys_page_where_it_cannot_be_written(ins: SignIns, clock: Clock) -> None:
    known = signed_in(ins)
    SESSIONS.drop(ins.engine)
    clock.now += 100
    ins.note_seen(known.id)


def test_ten_thousand_guesses_open_nothing(ins: SignIns) -> None:
    link, number = ins.invite("lane", "c-dunn", "inspector")
    for _ in range(10_000):
        guess = secrets.token_urlsafe(60)[: len(link)]
        assert ins.whose(guess) is ins.open(guess, number) is ins.signed_in(guess) is None
    assert ins.whose(link) is not None


def test_sessions_end_by_time_sign_out_and_revocation(ins: SignIns, clock: Clock) -> None:
    one, two = signed_in(ins, "a"), signed_in(ins, "b")
    ins.end(one.id)
    assert ins.session(one.id) is None
    assert ins.revoke("lane", "b") == 1
    assert ins.session(two.id) is None
    three = signed_in(ins, "c")
    clock.now += SESSION_S
    assert ins.session(three.id) is None


def test_a_code_is_chosen_once_also_with_another_link(ins: SignIns) -> None:
    known = signed_in(ins)
    assert not ins.choose_code(known.id, "12345")
    assert ins.choose_code(known.id, CODE)
    assert not ins.choose_code(signed_in(ins).id, "stolen phone")
    assert ins.confirm(known.id, "stolen phone", "x") is None
    ins.forget_code("lane", "c-dunn")
    assert ins.session(known.id) is None
    assert ins.choose_code(signed_in(ins).id, "another code")


def test_a_second_act_is_for_one_entry_of_one_session_once(ins: SignIns, clock: Clock) -> None:
    known, other = signed_in(ins), signed_in(ins)
    ins.choose_code(known.id, CODE)
    act = ins.confirm(known.id, CODE, "this release")
    assert act is not None
    assert not ins.spend(known.id, act, "another release")
    assert not ins.spend(other.id, act, "this release")
    assert ins.spend(known.id, act, "this release")
    assert not ins.spend(known.id, act, "this release"), "replayed"
    late = ins.confirm(known.id, CODE, "later")
    clock.now += ACT_S
    assert late is not None
    assert not ins.spend(known.id, late, "later")
    gone = ins.confirm(known.id, CODE, "gone")
    ins.end(known.id)
    assert gone is not None
    assert not ins.spend(known.id, gone, "gone")


def test_wrong_codes_lock_it_for_a_while_even_for_the_right_one(ins: SignIns, clock: Clock) -> None:
    known = signed_in(ins)
    assert ins.confirm(known.id, CODE, "x") is None, "none was chosen"
    ins.choose_code(known.id, CODE)
    for n in range(MOST_TRIES):
        assert ins.confirm(known.id, f"wrong {n}", "x") is None
    assert ins.confirm(known.id, CODE, "x") is None
    clock.now += LOCKED_S
    assert ins.confirm(known.id, CODE, "x") is not None


def test_nothing_kept_opens_anything(ins: SignIns, tmp_path: Path) -> None:
    link, number = ins.invite("lane", "c-dunn", "inspector")
    token = ins.open(link, number) or ""
    ins.choose_code(ins.signed_in(token).id, CODE)  # type: ignore[union-attr]
    kept = (tmp_path / "in.db").read_bytes()
    assert not any(secret.encode() in kept for secret in (link, token, CODE))
    with create_engine(f"sqlite:///{tmp_path / 'in.db'}").connect() as connection:
        for table in TABLES.sorted_tables:
            for row in connection.execute(table.select()):
                assert all(ins.signed_in(str(v)) is None and ins.whose(str(v)) is None for v in row)


def test_a_short_secret_signs_nothing(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="32"):
        SignIns(create_engine(f"sqlite:///{tmp_path / 'x.db'}"), "short")
