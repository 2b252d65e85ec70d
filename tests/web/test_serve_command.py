"""`boostwright serve`: where it listens, whom it lets in, and what it refuses to do."""

from pathlib import Path
from typing import Any

import pytest
import uvicorn
from typer.testing import CliRunner

from boostwright.cli.app import app
from tests.web.client import Client


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """What would have been served, without a server."""
    told: dict[str, Any] = {}
    monkeypatch.setattr(uvicorn, "run", lambda application, **said: told.update(said, app=application))
    return told


def test_it_listens_on_this_computer_and_says_where(served, tmp_path: Path):
    ran = CliRunner().invoke(app, ["serve", str(tmp_path), "--port", "8461"])
    assert ran.exit_code == 0
    assert "http://127.0.0.1:8461/\n" in ran.output
    assert (served["host"], served["port"]) == ("127.0.0.1", 8461)
    assert Client(served["app"]).get("/api/campaign").json["state"] == "empty"


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.0.7", "::"])
def test_the_network_needs_a_word(served, tmp_path: Path, host: str):
    ran = CliRunner().invoke(app, ["serve", str(tmp_path), "--host", host])
    assert ran.exit_code == 2
    assert "--share" in ran.output
    assert served == {}


def test_shared_it_prints_a_token_and_lets_nobody_in_without(served, tmp_path: Path):
    ran = CliRunner().invoke(app, ["serve", str(tmp_path), "--host", "192.168.0.7", "--share"])
    token = ran.output.partition("?token=")[2].split()[0]
    assert len(token) >= 32
    guest = Client(served["app"], headers={"host": "192.168.0.7:8460"})
    assert guest.get("/api/campaign").status == 401
    assert guest.get("/api/campaign", cookie=f"boostwright_token={token}").status == 200


def test_a_folder_that_is_not_there_is_refused(served, tmp_path: Path):
    ran = CliRunner().invoke(app, ["serve", str(tmp_path / "nowhere")])
    assert ran.exit_code == 2
    assert "make it first" in " ".join(ran.output.split())
    assert served == {}
