"""Nothing is served before sign-in is configured: every fault of the file is told at once, with its line."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from app.served.serve import main, opened
from app.served.served_settings import EXAMPLE, read_settings
from scheduler import BadInput, bundled_sites


@pytest.fixture
def config(tmp_path: Path) -> Path:
    """The example, with what it names beside it."""
    (tmp_path / "sites").mkdir()
    shutil.copy(bundled_sites()["orchard-lane"], tmp_path / "sites" / "lane.yaml")
    for name in ("certificate.pem", "key.pem"):
        (tmp_path / name).write_text("-")
    (tmp_path / "sign-in.secret").write_text("s" * 64)
    (tmp_path / "sign-in.secret").chmod(0o600)
    (tmp_path / "served.toml").write_text(EXAMPLE)
    return tmp_path / "served.toml"


def faults(config: Path, **change: str) -> list[str]:
    text = config.read_text()
    for before, after in change.items():
        assert before in text
        text = text.replace(before, after)
    config.write_text(text)
    with pytest.raises(BadInput) as bad:
        read_settings(config)
    return [f"{f.line} {f.where}" for f in bad.value.findings]


def test_the_example_is_whole(config: Path) -> None:
    settings, secret = read_settings(config)
    assert (settings.host, secret) == ("trench.example", "s" * 64)
    assert settings.database == f"sqlite:///{config.parent / 'sign-in.db'}"


def test_every_fault_is_told_with_its_line(config: Path) -> None:
    config.write_text('port = "a"\npublic_url = "http://x"\nodd = 1\n[proxy]\ntrusted = []\n')
    with pytest.raises(BadInput) as bad:
        read_settings(config)
    told = {(f.line, f.where) for f in bad.value.findings}
    want = {(1, "port"), (2, "public_url"), (3, "odd"), (5, "proxy.trusted"), (1, "address"), (1, "sites")}
    assert told == want | {(1, "sign_in")}


def test_no_sign_in_no_server(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    secret = config.parent / "sign-in.secret"
    secret.chmod(0o644)
    assert faults(config) == ["7 sign_in.secret_file"]
    secret.write_text("short")
    assert len(faults(config)) == 2
    secret.unlink()
    assert main(["serve", str(config)]) == 2
    said = capsys.readouterr().err
    assert "served.toml:7" in said
    assert "secrets.token_urlsafe" in said


def test_tls_is_ended_by_one_and_only_one(config: Path) -> None:
    (config.parent / "key.pem").unlink()
    assert faults(config) == ["11 tls.key"]
    config.write_text(EXAMPLE + '[proxy]\ntrusted = ["127.0.0.1"]\n')
    assert "9 tls" in faults(config)
    config.write_text(EXAMPLE.partition("[tls]")[0])
    assert faults(config) == ["1 tls"]


def test_a_provider_of_accounts_needs_tls_and_a_secret_of_ours_alone(config: Path) -> None:
    accounts = '[accounts]\nissuer = "http://login.example"\nclient_id = "x"\nclient_secret_file = "client.secret"\n'
    config.write_text(EXAMPLE + accounts)
    first = EXAMPLE.count("\n") + 1
    assert faults(config) == [f"{first + 1} accounts.issuer"]
    assert faults(config, **{"http://login": "https://login"}) == [f"{first + 3} accounts.client_secret_file"]
    (config.parent / "client.secret").write_text("given by the provider")
    (config.parent / "client.secret").chmod(0o644)
    assert faults(config) == [f"{first + 3} accounts.client_secret_file"]
    (config.parent / "client.secret").chmod(0o600)
    settings, _ = read_settings(config)
    assert settings.accounts is not None
    assert settings.accounts.client_secret_file == config.parent / "client.secret"


def test_sites_without_people_or_with_one_name_twice_are_not_served(config: Path) -> None:
    site = config.parent / "sites" / "lane.yaml"
    site.write_text(site.read_text().replace("name: Daniel Okoro", "name: Ruth Amsel"))
    with pytest.raises(BadInput, match="Ruth Amsel"):
        opened(config)


def test_an_invitation_is_for_a_person_of_a_served_site(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["invite", str(config), "lane", "c-dunn", "--qr", str(config.parent / "c.svg")]) == 0
    assert "https://trench.example/in/" in capsys.readouterr().out
    assert (config.parent / "c.svg").is_file()
    assert main(["invite", str(config), "lane", "nobody"]) == 2
    assert main(["invite", str(config), "street", "c-dunn"]) == 2
    assert main(["invite", str(config), "lane", "c-dunn", "--days", "0"]) == 2
    assert main(["revoke", str(config), "lane", "c-dunn"]) == 0
    assert "1 of c-dunn's" in capsys.readouterr().out
