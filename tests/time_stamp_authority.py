"""A time-stamp authority on this machine for tests: HTTP on a free port, answers by `openssl ts -reply`."""

from __future__ import annotations

import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, EllipticCurvePrivateKey, generate_private_key
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

SETTINGS = """[tsa]
default_tsa = here
[here]
serial = {folder}/serial
signer_cert = {folder}/signer.pem
signer_key = {folder}/signer.key
signer_digest = sha256
digests = {digests}
default_policy = 1.2.3.4.1
ess_cert_id_alg = sha256
"""


class Authority:
    """An authority with its root certificate, and what it does with a request; `answer` may be replaced."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir()
        self.folder, self.url, self.status, self.digests = folder, "", 200, "sha256"
        self.root = folder / "root.pem"
        root, signer = generate_private_key(SECP256R1()), generate_private_key(SECP256R1())
        self.root.write_bytes(_certificate("Root", root, root))
        (folder / "signer.pem").write_bytes(_certificate("Stamps", signer, root))
        key = signer.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
        (folder / "signer.key").write_bytes(key)
        (folder / "serial").write_text("01\n")

    def answer(self, request: bytes) -> bytes:
        """Return the answer to a request."""
        settings, asked, said = (self.folder / name for name in ("settings", "asked.tsq", "said.tsr"))
        settings.write_text(SETTINGS.format(folder=self.folder, digests=self.digests))
        asked.write_bytes(request)
        command = ["openssl", "ts", "-reply", "-config", settings, "-queryfile", asked, "-out", said]
        subprocess.run(command, check=True, capture_output=True, timeout=60)
        return said.read_bytes()


@contextmanager
def serving(authority: Authority) -> Iterator[Authority]:
    """Let an authority answer at its `url` for as long as the block runs."""

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            request = self.rfile.read(int(self.headers["Content-Length"]))
            body = authority.answer(request)
            self.send_response(authority.status)
            if authority.status == 302:
                self.send_header("Location", "http://127.0.0.1:1/elsewhere")
            self.send_header("Content-Type", "application/timestamp-reply")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True).start()
    authority.url = f"http://127.0.0.1:{server.server_port}/tsr"
    try:
        yield authority
    finally:
        server.shutdown()
        server.server_close()


def _certificate(name: str, key: EllipticCurvePrivateKey, root: EllipticCurvePrivateKey) -> bytes:
    now, is_root = datetime.now(UTC), key is root
    called = [x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, n)]) for n in (name, "Root")]
    made = x509.CertificateBuilder(called[1], called[0], key.public_key(), x509.random_serial_number())
    made = made.not_valid_before(now - timedelta(days=1)).not_valid_after(now + timedelta(days=30))
    made = made.add_extension(x509.BasicConstraints(ca=is_root, path_length=None), critical=True)
    if not is_root:
        made = made.add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.TIME_STAMPING]), critical=True)
    return made.sign(root, SHA256()).public_bytes(Encoding.PEM)
