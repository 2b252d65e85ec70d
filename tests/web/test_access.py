"""Who is let in, what is let in, and what stays inert."""

import io
import os
import struct
import zipfile
import zlib
from pathlib import Path

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.records.folder import find_logs
from boostwright.records.unpacked import unpacked_size
from boostwright.web import access
from boostwright.web.access import Access
from boostwright.web.app import create_app
from boostwright.web.folder import find_builds, safe_name
from tests.web.client import HOST, Client

LOG = b"Time [s],Engine speed [rpm],Torque [N*m]\n0,1000,100\n1,2000,110\n"


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8460", "127.0.0.1.evil.example", "192.168.0.7:8460", ""]
)
def test_a_host_that_is_not_this_computer_is_refused(client, host):
    """A name of somebody else's that was pointed at us (DNS rebinding) shows in Host."""
    answer = client.get("/api/campaign", host=host)
    assert answer.status == 403
    assert "is not an address of this app" in answer.faults[0]


@pytest.mark.parametrize("host", [HOST, "localhost:8460", "[::1]:8460"])
def test_this_computer_is_let_in(client, host):
    assert client.get("/openapi.json", host=host).status == 200


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "http://127.0.0.1:9999", "https://127.0.0.1:8460"])
def test_a_post_from_another_page_is_refused(client, origin):
    answer = client.post("/api/inspect", {"columns": {}}, origin=origin)
    assert answer.status == 403
    assert "comes from another page" in answer.faults[0]


def test_a_form_of_another_page_cannot_drop_files(client, folder):
    answer = client.drop(("08.csv", LOG), sec_fetch_site="cross-site")
    assert answer.status == 403
    assert not (folder / "pulls" / "08.csv").exists()


def test_another_page_can_link_here_but_read_nothing(client):
    assert client.get("/", sec_fetch_site="cross-site", sec_fetch_mode="navigate").status == 200
    assert client.get("/api/campaign", sec_fetch_site="cross-site", sec_fetch_mode="no-cors").status == 403


def test_json_that_a_plain_form_could_send_is_refused(client):
    answer = client.post("/api/inspect", {"columns": {}}, content_type="text/plain")
    assert answer.status == 415


class TestBeyondThisComputer:
    """With `--share`: a token, in the address once, then in a cookie."""

    @pytest.fixture
    def shared(self, folder: Path) -> Client:
        return Client(create_app(folder, Access(token="right")), headers={"host": "192.168.0.7:8460"})

    def test_without_the_token_nothing_is_served(self, shared):
        for path in ("/", "/api/campaign", "/openapi.json", "/?token=wrong", "/assets/app.js"):
            assert shared.get(path).status == 401

    def test_the_token_opens_and_leaves_the_address(self, shared):
        welcome = shared.get("/?token=right")
        assert (welcome.status, welcome.headers["location"]) == (303, "/")
        cookie = welcome.headers["set-cookie"]
        assert "HttpOnly" in cookie
        assert "SameSite=strict" in cookie
        assert shared.get("/openapi.json", cookie=cookie.partition(";")[0]).status == 200

    def test_a_wrong_or_broken_cookie_is_refused(self, shared):
        for cookie in ("boostwright_token=wrong", "boostwright_token=rîght", "=;=;", "boostwright_token"):
            assert shared.get("/openapi.json", cookie=cookie).status == 401

    def test_a_name_is_still_refused(self, shared):
        assert shared.get("/?token=right", host="evil.example").status == 403


def test_every_answer_forbids_foreign_scripts_frames_and_guesses_of_type(client):
    for path in ("/", "/api/campaign", "/openapi.json", "/nothing"):
        headers = client.get(path).headers
        assert headers["content-security-policy"].startswith("default-src 'self'; ")
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["x-frame-options"] == "DENY"


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("01.csv", "01.csv"),
        ("../../etc/passwd.csv", "passwd.csv"),
        ("C:\\logs\\day 2.csv", "day 2.csv"),
        ("<img src=x onerror=alert(1)>.csv", "_img src_x onerror_alert(1)_.csv"),
        (".hidden.csv", "hidden.csv"),
        ("a\x00b\n.csv", "a_b_.csv"),
        ("Zug–Ü1.csv", "Zug_Ü1.csv"),
    ],
)
def test_a_dropped_name_is_made_safe(said, kept):
    assert safe_name(said) == kept


@pytest.mark.parametrize(
    "said", ["", "..", "/", ".csv", "con.csv", "log.exe", "campaign.toml", "a.csv/../b.html", "log", "Campaign.TOML"]
)
def test_a_name_that_cannot_be_kept_is_refused(beginner, empty, said):
    answer = beginner.drop((said, LOG))
    assert answer.status == 422
    assert list(empty.rglob("*.*")) == []


def test_a_dropped_log_never_goes_over_another(client, folder):
    before = (folder / "pulls" / "01-cast.csv").read_bytes()
    answer = client.drop(("01-cast.csv", LOG), ("08.csv", LOG))
    assert answer.json["kept"] == ["pulls/08.csv"]
    assert "pulls/01-cast.csv: is there already; rename the file" in answer.faults[0]
    assert (folder / "pulls" / "01-cast.csv").read_bytes() == before


def test_a_link_that_leaves_the_folder_is_neither_read_nor_written(client, folder, tmp_path):
    secret = tmp_path / "secret.csv"
    secret.write_bytes(LOG)
    (folder / "pulls" / "01-cast.csv").unlink()
    os.symlink(secret, folder / "pulls" / "01-cast.csv")
    for path in ("/api/compare", "/api/publish", "/api/report", "/api/gain.csv", "/api/map?setup=cast"):
        answer = client.get(path)
        assert answer.status == 422
        assert "pulls/01-cast.csv: lies outside the campaign folder" in answer.faults[0]
    assert client.post("/api/inspect", {"columns": {}}).status == 422
    assert str(secret) not in client.get("/api/campaign").body.decode()
    assert client.drop(("01-cast.csv", b"mine")).status == 422
    assert secret.read_bytes() == LOG


def test_a_folder_of_pulls_that_is_a_link_takes_no_logs(beginner, empty, tmp_path):
    (tmp_path / "outside").mkdir()
    os.symlink(tmp_path / "outside", empty / "pulls")
    answer = beginner.drop(("01.csv", LOG))
    assert answer.status == 422
    assert list((tmp_path / "outside").iterdir()) == []


@pytest.mark.parametrize(
    "path", ["/../campaign.toml", "/%2e%2e/app.py", "/..%2fapp.py", "/assets/../../app.py", "/campaign.toml"]
)
def test_no_file_beside_the_page_is_served(client, path):
    assert client.get(path).status == 404


@pytest.mark.parametrize("place", ["../secret.csv", "/etc/hostname", "pulls/../../secret.csv", "..\\secret.csv"])
def test_a_campaign_cannot_name_a_file_outside(client, folder, tmp_path, place):
    (tmp_path / "secret.csv").write_bytes(LOG)
    view = client.get("/api/campaign").json
    view["campaign"]["pulls"][0]["file"] = place
    before = (folder / "campaign.toml").read_bytes()
    answer = client.put("/api/campaign", {"version": view["version"], "campaign": view["campaign"]})
    assert answer.status == 422
    assert "lies outside the campaign folder" in answer.faults[0]
    assert (folder / "campaign.toml").read_bytes() == before


class TestSizes:
    """Limits, made small for the test."""

    def test_a_body_said_to_be_large_is_refused_unread(self, client):
        answer = client.post("/api/inspect", {}, content_length=str(2 << 20))
        assert answer.status == 413
        assert "is larger than 1 MB" in answer.faults[0]

    def test_a_body_that_grows_beyond_its_word_is_cut_off(self, client):
        body = b'{"columns": {"' + b"x" * (2 << 20) + b'": ""}}'
        answer = client.send("POST", "/api/inspect", body, {"content-type": "application/json", "content-length": ""})
        assert answer.status == 413

    def test_a_length_that_is_no_number_is_refused(self, client):
        assert client.post("/api/inspect", {}, content_length="-1").status == 413

    def test_a_large_upload_is_refused(self, client, monkeypatch):
        monkeypatch.setattr(access, "MOST_UPLOAD", 1000)
        assert client.drop(("08.csv", LOG * 50)).status == 413

    def test_a_large_file_is_refused_and_others_are_kept(self, client, monkeypatch):
        monkeypatch.setattr("boostwright.web.app.MOST_FILE", len(LOG))
        answer = client.drop(("08.csv", LOG * 2), ("09.csv", LOG))
        assert answer.json["kept"] == ["pulls/09.csv"]
        assert "08.csv: is larger than" in answer.faults[0]

    def test_too_many_files_at_once_are_refused(self, client, folder):
        answer = client.drop(*((f"many-{number}.csv", LOG) for number in range(41)))
        assert answer.status == 422
        assert not list((folder / "pulls").glob("many-*"))

    def test_a_folder_takes_only_so_many_logs(self, client, folder, monkeypatch):
        there = len(find_logs(folder)) + len(find_builds(folder))
        monkeypatch.setattr("boostwright.web.folder.MOST_LOGS", there + 1)
        assert client.drop(("08.csv", LOG), ("09.csv", LOG)).json["kept"] == ["pulls/08.csv"]

    @pytest.mark.parametrize("suffix", ["xlsx", "parquet", "mf4"])
    def test_a_log_that_unpacks_to_more_than_any_logger_writes_is_refused(self, client, folder, monkeypatch, suffix):
        monkeypatch.setattr("boostwright.web.folder.MOST_UNPACKED", 1 << 20)
        answer = client.drop((f"bomb.{suffix}", BOMBS[suffix](3 << 20)))
        assert answer.status == 422
        assert f"bomb.{suffix}: unpacks to 3 MB, from 0.0 MB; export the pull alone" in answer.faults[0]
        assert not list((folder / "pulls").glob("bomb*"))

    @pytest.mark.parametrize("suffix", ["xlsx", "parquet", "mf4"])
    def test_a_log_that_unpacks_to_far_more_than_it_is_is_refused(self, client, monkeypatch, suffix):
        monkeypatch.setattr("boostwright.web.folder.LEAST_SUSPECT", 1 << 20)
        answer = client.drop((f"bomb.{suffix}", BOMBS[suffix](3 << 20)))
        assert answer.status == 422
        assert "200 times the file are the most" in answer.faults[0]

    def test_a_billion_equal_rows_are_counted_though_their_pages_are_small(self, client):
        """Repeated values are stored once: the pages of such a file stay small even unpacked."""
        few = pl.DataFrame({"rpm": [1000.0] * 300_000})
        packed = io.BytesIO()
        few.write_parquet(packed, compression="zstd")
        assert unpacked_size(packed.getvalue()) >= 8 * 300_000
        assert len(packed.getvalue()) < 8 * 300_000 / 100

    def test_honest_logs_of_every_kind_are_kept(self, beginner, folder):
        logs = sorted((folder / "pulls").iterdir())
        kept = beginner.drop(*((path.name, path.read_bytes()) for path in logs)).json["kept"]
        assert len(kept) == len(logs)

    @given(data=st.binary(max_size=80), head=st.sampled_from([b"PK\x03\x04", b"PAR1", b"MDF     "]))
    def test_no_header_of_any_form_is_our_fault(self, data, head):
        broken = head + data + struct.pack("<I", len(data)) + b"PAR1"
        assert unpacked_size(broken) >= 0


def workbook_of(size: int) -> bytes:
    """A workbook whose sheet is so many zeros."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as book:
        book.writestr("xl/worksheets/sheet1.xml", b"0" * size)
    return packed.getvalue()


def parquet_of(size: int) -> bytes:
    """One row with a text so long."""
    packed = io.BytesIO()
    pl.DataFrame({"rpm": ["0" * size]}).write_parquet(packed, compression="zstd", statistics=False)
    return packed.getvalue()


def mdf_of(size: int) -> bytes:
    """The head of an MDF file and one compressed block that says it is so long (ASAM MDF 4.1, block ##DZ)."""
    data = zlib.compress(b"0" * size)
    block = struct.pack("<4sIQQ2sBBIQQ", b"##DZ", 0, 48 + len(data), 0, b"DT", 0, 0, 0, size, len(data)) + data
    return b"MDF     4.10    " + bytes(48) + block


BOMBS = {"xlsx": workbook_of, "parquet": parquet_of, "mf4": mdf_of}
