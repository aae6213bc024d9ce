"""The container definition: its files fit each other and the program, and only the proxy is reached from outside.

No container is built here: that takes a machine with Docker.
"""

from __future__ import annotations

import re
import shutil
import tomllib
from pathlib import Path
from typing import Any
from unittest.mock import Mock

import pytest
from ruamel.yaml import YAML
from uvicorn.server import ServerState
from websockets.protocol import State

import app.served
from app.served.accounts import BACK
from app.served.serve import EndsInOrder, listening, main
from app.served.served_settings import AccountsPart, ServedSettings, read_settings
from scheduler import BadInput, bundled_sites
from scheduler.cli.main import parser
from tests.unit.test_gate import in_a_thread

FOLDER = Path(app.served.__file__).with_name("container")
ROOT = FOLDER.parents[2]
GUIDE = (FOLDER / "GUIDE.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def compose() -> Any:
    return YAML(typ="safe").load((FOLDER / "compose.yaml").read_text(encoding="utf-8"))


@pytest.fixture
def settings(tmp_path: Path) -> ServedSettings:
    """Return what the container's configuration says, with what the guide has made beside it."""
    return read_settings(_set_up(tmp_path))[0]


def _set_up(folder: Path) -> Path:
    text = (FOLDER / "config" / "served.toml").read_text(encoding="utf-8")
    (folder / "served.toml").write_text(text.replace('"/sites"', '"sites"'), encoding="utf-8")
    (folder / "sites").mkdir()
    shutil.copy(bundled_sites()["orchard-lane"], folder / "sites" / "lane.yaml")
    (folder / "sign-in.secret").write_text("s" * 64)
    (folder / "sign-in.secret").chmod(0o600)
    return folder / "served.toml"


def test_only_the_proxy_is_reached_from_outside(compose: Any) -> None:
    services = compose["services"]
    assert {name for name, service in services.items() if "ports" in service} == {"proxy"}
    assert services["proxy"]["ports"] == ["80:80", "443:443"]
    assert all(":latest" not in s.get("image", "") and "privileged" not in s for s in services.values())
    assert services["app"]["read_only"] is True
    assert services["app"]["cap_drop"] == ["ALL"]


def test_the_dashboard_trusts_the_proxys_own_address_and_asks_the_database_that_is_there(
    compose: Any, settings: ServedSettings
) -> None:
    services = compose["services"]
    assert settings.proxy is not None
    trusted = [str(address) for address in settings.proxy.trusted]
    assert trusted == [services["proxy"]["networks"]["inside"]["ipv4_address"]]
    assert f"reverse_proxy app:{settings.port}" in (FOLDER / "Caddyfile").read_text()
    journal = services["app"]["environment"]["JOINTTRENCH_JOURNAL"]
    assert settings.database == journal
    user, host, name = re.fullmatch(r"postgresql\+psycopg://(\w+)@(\w+)/(\w+)", journal).groups()  # type: ignore[union-attr]
    assert host in services
    made = services[host]["environment"]
    assert (user, name) == (made["POSTGRES_USER"], made["POSTGRES_DB"])
    assert services["app"]["environment"]["PGPASSWORD"] == made["POSTGRES_PASSWORD"]


def test_no_secret_stands_in_the_files() -> None:
    for file in FOLDER.rglob("*"):
        if file.is_file():
            assert not re.search(r"(?i)password['\"]?\s*[:=]\s*(?!\$\{|%s|\?)\S", file.read_text(encoding="utf-8")), (
                file
            )


def test_it_does_not_start_before_the_secret_is_made(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    config = _set_up(tmp_path)
    (tmp_path / "sign-in.secret").unlink()
    with pytest.raises(BadInput, match="secret_file"):
        read_settings(config)
    assert main(["serve", str(config)]) == 2
    assert "Nothing is served" in capsys.readouterr().err


def test_the_image_takes_what_the_project_needs_and_starts_the_server(compose: Any) -> None:
    text = (FOLDER / "Containerfile").read_text()
    build = compose["services"]["app"]["build"]
    assert (FOLDER / build["context"]).resolve() == ROOT
    assert (ROOT / build["dockerfile"]).samefile(FOLDER / "Containerfile")
    copied = [name for line in re.findall(r"^COPY (.+)$", text, re.M) for name in line.split()[:-1]]
    assert all((ROOT / name).exists() for name in copied)
    let_in = {line[1:] for line in (FOLDER / "Containerfile.dockerignore").read_text().splitlines() if line[0] == "!"}
    assert set(copied) == let_in
    assert "app/served/container" in (FOLDER / "Containerfile.dockerignore").read_text().splitlines(), (
        "secrets lie there"
    )
    assert "USER trench" in text
    start = re.search(r'CMD \["jointtrench", (.+)\]\s*$', text)
    assert start is not None
    parser().parse_args(re.findall(r'"([^"]+)"', start[1]))


def test_the_accounts_of_the_guide_are_what_the_configuration_takes() -> None:
    (block,) = re.findall(r"```toml\n(.*?)```", GUIDE, re.S)
    said = tomllib.loads(block)["accounts"]
    assert AccountsPart.model_validate(said).issuer == "https://login.example"
    assert f"https://trench.example{BACK}" in GUIDE


def test_every_command_of_the_guide_is_one_that_there_is() -> None:
    said = re.findall(r"jointtrench ((?:serve|invite|revoke|journal) [^`\n]+)", GUIDE)
    assert len(said) >= 6
    for words in said:
        parser().parse_args(words.split())
    assert set(re.findall(r"docker compose (\w+)", GUIDE)) <= {"up", "exec", "cp", "logs", "stop"}
    services = "app|database|proxy"
    assert all(re.match(rf"(-T )?({services}) ", rest) for rest in re.findall(r"docker compose exec ([^\n]+)", GUIDE))


@pytest.mark.parametrize(("asked_by", "seen"), [("172.30.77.2", "7.7.7.7"), ("172.30.77.3", "172.30.77.3")])
def test_where_a_request_comes_from_is_believed_of_the_named_proxy_only(
    settings: ServedSettings, asked_by: str, seen: str
) -> None:
    heard: list[Any] = []

    async def gate(scope: Any, receive: Any, send: Any) -> None:
        heard.append(scope["client"][0])

    async def nothing(*_: Any) -> Any:
        return {}

    config = listening(gate, settings)
    config.load()
    scope = {"type": "http", "scheme": "http", "client": (asked_by, 5), "headers": [(b"x-forwarded-for", b"7.7.7.7")]}
    in_a_thread(config.loaded_app(scope, nothing, nothing))  # type: ignore[arg-type]
    assert heard == [seen]
    alone = settings.model_copy(update={"proxy": None})
    assert listening(gate, alone).proxy_headers is False


def test_a_page_that_leaves_while_the_server_stops_does_not_break_the_stop_off(settings: ServedSettings) -> None:
    async def leave() -> None:
        config = listening(lambda *_: None, settings)  # type: ignore[arg-type, return-value]
        leaving = EndsInOrder(config, ServerState(), {})
        leaving.transport, leaving.handshake_complete = Mock(), True
        leaving.conn.state = State.CLOSING
        leaving.shutdown()
        leaving.transport.close.assert_called_once_with()

    in_a_thread(leave())
