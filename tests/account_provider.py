"""A provider of accounts on this machine, for tests: OpenID Connect with one account, which can be made to lie."""

from __future__ import annotations

import base64
import hashlib
import json
import secrets
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qsl, urlencode, urlsplit

from joserfc import jwt
from joserfc.jwk import RSAKey

CLIENT, CLIENT_SECRET = "trench-server", "the-secret-that-the-provider-gave"


class AccountProvider:
    """What the provider knows and says; a test may change each of these."""

    def __init__(self, address: str) -> None:
        self.issuer = address
        self.key = RSAKey.generate_key(2048, {"kid": "one", "use": "sig", "alg": "RS256"})
        self.signs_with: Any = self.key
        self.mail = "sam@valley-power.example"
        self.lies: dict[str, object] = {}
        """Claims said instead of the true ones."""
        self.codes: dict[str, dict[str, str]] = {}

    def described(self) -> dict[str, str]:
        """Return what it says of itself."""
        ends = {"authorization_endpoint": "authorize", "token_endpoint": "token", "jwks_uri": "keys"}
        return {"issuer": self.issuer, **{name: f"{self.issuer}/{end}" for name, end in ends.items()}}

    def authorize(self, asked: dict[str, str]) -> str:
        """Return the address to which somebody who says yes is sent back."""
        assert asked["response_type"] == "code"
        assert asked["code_challenge_method"] == "S256"
        code = secrets.token_urlsafe(16)
        self.codes[code] = asked
        return f"{asked['redirect_uri']}?{urlencode({'code': code, 'state': asked['state']})}"

    def token(self, said: dict[str, str], client: str) -> dict[str, object] | None:
        """Return the tokens of a code, once and to whoever asked for it only."""
        asked = self.codes.pop(said.get("code", ""), None)
        proof = base64.urlsafe_b64encode(hashlib.sha256(said.get("code_verifier", "").encode()).digest()).rstrip(b"=")
        right = base64.b64encode(f"{CLIENT}:{CLIENT_SECRET}".encode()).decode()
        if asked is None or proof.decode() != asked["code_challenge"] or client != f"Basic {right}":
            return None
        now = int(time.time())
        claims = {"iss": self.issuer, "sub": "7", "aud": CLIENT, "exp": now + 60, "iat": now, "nonce": asked["nonce"]}
        claims |= {"email": self.mail, "email_verified": True, **self.lies}
        signed = jwt.encode({"alg": "RS256", "kid": "one"}, claims, self.signs_with)
        return {"access_token": "unused", "token_type": "Bearer", "expires_in": 60, "id_token": signed}


@contextmanager
def provide_accounts() -> Iterator[AccountProvider]:
    """Run a provider on a free port of this machine; end it after use."""

    class Answers(BaseHTTPRequestHandler):
        def log_message(self, *_: object) -> None:
            pass

        def do_GET(self) -> None:
            parts = urlsplit(self.path)
            if parts.path == "/authorize":
                self.send_response(302)
                self.send_header("Location", provider.authorize(dict(parse_qsl(parts.query))))
                self.end_headers()
            elif parts.path == "/keys":
                self._say(200, {"keys": [provider.key.as_dict(private=False)]})
            else:
                self._say(200, provider.described())

        def do_POST(self) -> None:
            said = dict(parse_qsl(self.rfile.read(int(self.headers["Content-Length"])).decode()))
            found = provider.token(said, self.headers.get("Authorization", ""))
            self._say(200 if found else 400, found or {"error": "invalid_grant"})

        def _say(self, status: int, content: dict[str, Any]) -> None:
            body = json.dumps(content).encode()
            self.send_response(status)
            self.send_header("Content-Type", "application/json")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

    server = ThreadingHTTPServer(("127.0.0.1", 0), Answers)
    provider = AccountProvider(f"http://127.0.0.1:{server.server_address[1]}")
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield provider
    finally:
        server.shutdown()
        server.server_close()
