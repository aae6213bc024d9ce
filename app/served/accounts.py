"""Sign-in with a firm's own accounts: OpenID Connect Core 1.0, by authorization code with PKCE (RFC 7636).

An account is known by its mail address, which its provider must have verified; the site file says whose it is.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import requests
from authlib.common.errors import AuthlibBaseError
from authlib.integrations.requests_client import OAuth2Session
from itsdangerous import BadData, URLSafeTimedSerializer
from joserfc import jwt
from joserfc.errors import JoseError
from joserfc.jwk import KeySet

from app.served.served_settings import AccountsPart

BACK = "/account/back"
ASKED_S = 600
"""How long somebody may take at their provider."""
WAIT_S = 10.0
SIGNED_WITH = ["RS256", "PS256", "ES256", "EdDSA"]
"""Of asymmetric kinds only: what is signed with the client's own secret proves less."""


@dataclass(frozen=True, slots=True)
class SentToProvider:
    """Somebody who is sent to their provider: where to, and what their browser keeps until they are back."""

    address: str
    kept: str


class Accounts:
    """Asks one provider who somebody is. What a browser keeps meanwhile is signed with a key of this process."""

    def __init__(self, settings: AccountsPart, client_secret: str, public_url: str) -> None:
        self._settings, self._client_secret, self._back = settings, client_secret, f"{public_url}{BACK}"
        self._signer = URLSafeTimedSerializer(secrets.token_urlsafe(48))

    def ask(self) -> SentToProvider | None:
        """Return where to send somebody; None when the provider cannot be reached."""
        verifier, nonce = secrets.token_urlsafe(48), secrets.token_urlsafe(24)
        try:
            place = self._described()["authorization_endpoint"]
            with self._client() as client:
                address, state = client.create_authorization_url(place, code_verifier=verifier, nonce=nonce)
        except (requests.RequestException, ValueError, KeyError, TypeError):
            return None
        return SentToProvider(str(address), str(self._signer.dumps([state, nonce, verifier])))

    def mail_of(self, kept: str, said: Mapping[str, str]) -> str | None:
        """Return the verified mail address of somebody who is back, in small letters; None whatever is wrong with it.

        `kept` is what their browser kept, `said` the fields of the address that the provider sent them to.
        """
        try:
            state, nonce, verifier = self._signer.loads(kept, max_age=ASKED_S)
            if not secrets.compare_digest(state.encode(), said.get("state", "").encode()) or not said.get("code"):
                return None
            described = self._described()
            with self._client() as client:
                token = client.fetch_token(
                    described["token_endpoint"], code=said["code"], code_verifier=verifier, timeout=WAIT_S
                )
            keys = KeySet.import_key_set(_json(described["jwks_uri"]))
            claims = jwt.decode(token["id_token"], keys, algorithms=SIGNED_WITH).claims
            self._judge(claims, nonce)
        except (BadData, JoseError, AuthlibBaseError, requests.RequestException, ValueError, KeyError, TypeError):
            return None
        mail = claims.get("email")
        return mail.strip().lower() if isinstance(mail, str) and claims.get("email_verified") is True else None

    def _judge(self, claims: dict[str, Any], nonce: str) -> None:
        """Raise JoseError for a token of another provider, for another server, of another question, or too old."""
        client = self._settings.client_id
        registry = jwt.JWTClaimsRegistry(
            iss={"essential": True, "value": self._settings.issuer},
            aud={"essential": True, "value": client},
            azp={"essential": isinstance(claims.get("aud"), list) and len(claims["aud"]) > 1, "value": client},
            nonce={"essential": True, "value": nonce},
            exp={"essential": True},
            sub={"essential": True},
        )
        registry.validate(claims)

    def _client(self) -> OAuth2Session:
        return OAuth2Session(
            self._settings.client_id,
            self._client_secret,
            scope="openid email",
            redirect_uri=self._back,
            code_challenge_method="S256",
        )

    def _described(self) -> dict[str, str]:
        """Return what the provider says of itself; raises ValueError when it is another than the one that is named."""
        found: dict[str, str] = _json(f"{self._settings.issuer.rstrip('/')}/.well-known/openid-configuration")
        if found.get("issuer") != self._settings.issuer:
            raise ValueError("another provider answers there")
        for name in ("authorization_endpoint", "token_endpoint", "jwks_uri"):
            AccountsPart.reached_safely(str(found[name]))
        return found


def _json(address: str) -> Any:
    answer = requests.get(address, timeout=WAIT_S, allow_redirects=False)
    answer.raise_for_status()
    if answer.status_code != 200:
        raise ValueError("no answer")
    return answer.json()
