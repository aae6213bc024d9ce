"""An open page of the served dashboard as its server sees it: Streamlit's own messages over a WebSocket, no browser.

It sends what a browser sends (pages asked for, widgets touched, the looks again that a page asks for every few
seconds) and reads every message that comes for the names in it.
"""

from __future__ import annotations

import asyncio
import re
import ssl
import time
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed

from app.served.served_roles import MAY_WRITE

PATIENCE_S = 60.0
"""After which something that was asked for counts as never answered."""
YOU_ARE = re.compile(rf"\*\*([^*]+), ({'|'.join(MAY_WRITE).replace('_', ' ')})\*\*")
"""The line of a page that says who is signed in, as `said_role` writes it."""


@dataclass
class OwnNames:
    """What a page of one person may say of people, and what it said otherwise."""

    person: str
    role: str
    others: tuple[str, ...]
    """Words in the names of everybody of other sites, and in nothing else."""
    messages: int = 0
    named: int = 0
    """How often the page said who is signed in."""
    mixed: list[str] = field(default_factory=list)

    def read(self, message: bytes) -> None:
        """Look through a message as it came, whatever it is, for people of other sites."""
        self.messages += 1
        self.mixed += [f"{self.person} was sent {word}" for word in self.others if word.encode() in message]

    def read_line(self, words: str) -> None:
        """Look at a line of a page; where it says who is signed in, that is this person in their role."""
        said = YOU_ARE.fullmatch(words)
        if said is not None:
            self.named += 1
            if said.groups() != (self.person, self.role.replace("_", " ")):
                self.mixed.append(f"{self.person} was told to be {said[1]}")


class PageStream:
    """One open page: what it shows, by its server's messages, and what somebody does on it."""

    def __init__(self, address: str, cookie: str, trusted: ssl.SSLContext, names: OwnNames) -> None:
        self.names, self._address, self._cookie, self._trusted = names, address, cookie, trusted
        self.pages: dict[str, str] = {}
        """By the word for a page in the address: the hash by which it is asked for."""
        self.lines: list[str] = []
        """What stands on the page, line by line, since it was last drawn as a whole."""
        self.widgets: dict[tuple[str, str], Any] = {}
        """By kind and label: what somebody can touch."""
        self.broken: list[str] = []
        self._page, self._query, self._touched = "", "", {}
        self._known: set[str] = set()
        self._socket: ClientConnection | None = None
        self._tasks: list[asyncio.Task[None]] = []
        self._again: dict[str, asyncio.Task[None]] = {}
        self._whole = False
        self._ended, self._changed = asyncio.Event(), asyncio.Event()

    async def open(self, page: str, **query: str) -> PageStream:
        """Connect as a page opened by its address does, and ask for it; the answer is waited for elsewhere."""
        self._socket = await connect(
            f"{self._address.replace('https', 'wss')}/_stcore/stream",
            ssl=self._trusted,
            origin=self._address,
            subprotocols=["streamlit", "PLACEHOLDER_AUTH_TOKEN"],
            additional_headers={"Cookie": self._cookie},
            max_size=None,
        )
        self._query = urlencode(query)
        self._tasks.append(asyncio.create_task(self._listen(self._socket)))
        await self._ask(page_name=page)
        return self

    async def close(self) -> None:
        """Leave the page."""
        for task in (*self._tasks, *self._again.values()):
            task.cancel()
        if self._socket is not None:
            await self._socket.close()

    async def switch(self, page: str) -> float:
        """Go to another page by its link; return the seconds until it is whole."""
        self._page, self._query, self._touched = self.pages[page], "", {}
        began = time.monotonic()
        await self._ask()
        await self.drawn()
        return time.monotonic() - began

    async def touch(self, **values: tuple[str, str, object]) -> None:
        """Set widgets, given as kind, label and value by the field that carries it, and have the page drawn anew."""
        for carrier, (kind, label, value) in values.items():
            self._touched[self.widgets[kind, label].id] = (carrier, value)
        await self._ask()
        self._touched = {k: v for k, v in self._touched.items() if v[0] != "trigger_value"}

    async def drawn(self) -> None:
        """Wait until the page asked for last is whole."""
        await asyncio.wait_for(self._ended.wait(), PATIENCE_S)

    async def says(self, words: str) -> None:
        """Wait until a line with these words stands on the page."""

        async def seen() -> None:
            while not any(words in line for line in self.lines):
                self._changed.clear()
                await self._changed.wait()

        await asyncio.wait_for(seen(), PATIENCE_S)

    async def _ask(self, **how: str) -> None:
        self._ended.clear()
        self._whole = False
        await self._send(**how)

    async def _send(self, **how: Any) -> None:
        message = BackMsg()
        run = message.rerun_script
        run.query_string, run.page_script_hash = self._query, self._page
        run.cached_message_hashes.extend(self._known)
        run.context_info.timezone, run.context_info.locale = "America/Chicago", "en-US"
        run.context_info.url = self._address
        for name, value in how.items():
            setattr(run, name, value)
        for widget, (carrier, value) in self._touched.items():
            setattr(run.widget_states.widgets.add(id=widget), carrier, value)
        if self._socket is not None:
            await self._socket.send(message.SerializeToString())

    async def _look_again(self, fragment: str, seconds: float) -> None:
        with suppress(ConnectionClosed):
            while True:
                await asyncio.sleep(seconds)
                await self._send(fragment_id=fragment, is_auto_rerun=True)

    async def _listen(self, socket: ClientConnection) -> None:
        try:
            async for content in socket:
                if isinstance(content, bytes):
                    self.names.read(content)
                    self._take(ForwardMsg.FromString(content))
                    self._changed.set()
        except ConnectionClosed as closed:
            self.broken.append(f"the connection ended: {closed}")

    def _take(self, message: ForwardMsg) -> None:
        kind = message.WhichOneof("type")
        if message.metadata.cacheable:
            self._known.add(message.hash)
        if kind == "ref_hash" and message.ref_hash not in self._known:
            self.broken.append("a message stands for another that never came")
        elif kind == "new_session" and not message.metadata.run.fragment_ids:
            self._begin(message.new_session.page_script_hash)
        elif kind == "navigation" and self._whole:
            self.pages = {p.url_pathname: p.page_script_hash for p in message.navigation.app_pages}
            self._page = message.navigation.page_script_hash
        elif kind == "auto_rerun":
            self._look(message.auto_rerun.fragment_id, message.auto_rerun.interval)
        elif kind == "stop_auto_rerun":
            for fragment in message.stop_auto_rerun.fragment_ids:
                if fragment in self._again:
                    self._again.pop(fragment).cancel()
        elif kind == "delta" and message.delta.WhichOneof("type") == "new_element":
            self._show(message.delta.new_element)
        elif kind == "script_finished" and self._whole and message.script_finished == ForwardMsg.FINISHED_SUCCESSFULLY:
            self._ended.set()

    def _begin(self, page: str) -> None:
        """Begin a page anew, unless it is one that was left just before."""
        if self._page in ("", page):
            self._whole, self.lines = True, []
            self.widgets.clear()
            for fragment in list(self._again):
                self._again.pop(fragment).cancel()

    def _show(self, element: Any) -> None:
        kind = element.WhichOneof("type")
        shown = getattr(element, kind) if kind else None
        if kind in ("markdown", "alert"):
            self.lines.append(shown.body)
            self.names.read_line(shown.body)
        elif kind == "exception":
            self.broken.append(f"an exception: {shown.type}")
        elif kind in ("button", "selectbox", "text_area"):
            self.widgets[kind, shown.label] = shown

    def _look(self, fragment: str, seconds: float) -> None:
        if fragment in self._again:
            self._again.pop(fragment).cancel()
        self._again[fragment] = asyncio.create_task(self._look_again(fragment, seconds))
