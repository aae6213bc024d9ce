"""What many pages ask of the same things is worked out once."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, wraps
from typing import Any, ParamSpec, TypeVar

from scheduler.spoken import language
from scheduler.units import metric

MOST = 64
Asked = ParamSpec("Asked")
Made = TypeVar("Made")


class _Same:
    """A thing told from others by being that very thing, however many are equal to it."""

    def __init__(self, thing: object) -> None:
        self.thing = thing  # as long as this is kept, nothing else can take its identity

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.thing is other.thing

    def __hash__(self) -> int:
        return id(self.thing)


def once(things: int) -> Callable[[Callable[Asked, Made]], Callable[Asked, Made]]:
    """Have a function work out each answer once, for the last `MOST` questions.

    Its first `things` arguments, given by place, are told by identity, the others by what they are; each language and
    each kind of units has answers of its own. What it returns is shared by all who ask, so nobody may change it.
    """

    def decorate(make: Callable[Asked, Made]) -> Callable[Asked, Made]:
        @lru_cache(maxsize=MOST)
        def kept(same: tuple[_Same, ...], _told: tuple[str, bool], *rest: Any, **named: Any) -> Any:
            asked: Any = (*(s.thing for s in same), *rest)
            return make(*asked, **named)

        @wraps(make)
        def asked(*args: Any, **named: Any) -> Any:
            return kept(tuple(map(_Same, args[:things])), (language(), metric()), *args[things:], **named)

        return asked

    return decorate
