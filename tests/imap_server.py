"""A mailbox server on this machine, as little of IMAP (RFC 9051) as reading answers takes, over TLS."""

from __future__ import annotations

import re
import socketserver
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


class ImapServer(socketserver.ThreadingTCPServer):
    """Serves one mailbox; `seen` are the numbers of the mails marked as read."""

    allow_reuse_address = daemon_threads = True

    def __init__(self, certificate: Path) -> None:
        super().__init__(("127.0.0.1", 0), _Session)
        self.mails: dict[int, bytes] = {}
        self.seen: set[int] = set()
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(certificate / "cert.pem", certificate / "key.pem")
        self.socket = context.wrap_socket(self.socket, server_side=True, do_handshake_on_connect=False)

    @property
    def port(self) -> int:
        return int(self.server_address[1])

    def handle_error(self, request: object, client_address: object) -> None:
        """Say nothing of a client that went away."""

    def put(self, mail: bytes) -> None:
        self.mails[len(self.mails) + 1] = mail


class _Session(socketserver.StreamRequestHandler):
    def handle(self) -> None:
        server = self.server
        assert isinstance(server, ImapServer)
        self.wfile.write(b"* OK [CAPABILITY IMAP4rev1] ready\r\n")
        while line := self.rfile.readline().decode():
            tag, _, rest = line.rstrip("\r\n").partition(" ")
            good, rows = self._answer(server, rest)
            self.wfile.write(b"".join(rows) + f"{tag} {'OK' if good else 'NO'} done\r\n".encode())
            if rest.upper().startswith("LOGOUT"):
                return

    def _answer(self, server: ImapServer, said: str) -> tuple[bool, list[bytes]]:
        word = said.upper()
        if word.startswith("CAPABILITY"):
            return True, [b"* CAPABILITY IMAP4rev1\r\n"]
        if word.startswith("LOGIN"):
            return said.partition(" ")[2] == 'office "a password"', []
        if word.startswith("SELECT"):
            return '"INBOX"' in said, [f"* {len(server.mails)} EXISTS\r\n".encode()]
        if word.startswith("UID SEARCH UNSEEN"):
            new = " ".join(str(n) for n in server.mails if n not in server.seen)
            return True, [f"* SEARCH {new}".rstrip().encode() + b"\r\n"]
        found = re.match(r"UID (FETCH|STORE) (\d+)", word)
        if found is None:
            return word.startswith("LOGOUT"), []
        number = int(found[2])
        if found[1] == "STORE":
            server.seen.add(number)
            return True, []
        mail = server.mails[number]
        if "RFC822.SIZE" in word:
            return True, [f"* {number} FETCH (UID {number} RFC822.SIZE {len(mail)})\r\n".encode()]
        return True, [f"* {number} FETCH (UID {number} BODY[] {{{len(mail)}}}\r\n".encode(), mail, b")\r\n"]


@contextmanager
def mailbox_server(certificate: Path) -> Iterator[ImapServer]:
    """Run a mailbox server while it is used."""
    with ImapServer(certificate) as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
        thread.start()
        yield server
        server.shutdown()
        thread.join(timeout=10)
