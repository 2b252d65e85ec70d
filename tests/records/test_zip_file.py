"""A zip from outside: what is unsafe is refused by its name before anything is unpacked."""

import io
import stat
import struct
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostwright.errors import FileError
from boostwright.records import zip_file
from boostwright.records.zip_file import read_zip, unzipped, zip_bytes

PLAIN = {"inputs/campaign.toml": b"title = 1\n", "inputs/pulls/01 cast.csv": b"rpm\n1000\n", "report.html": b"<p>"}


def zip_of(*entries: tuple[str, bytes], mode: int = 0, packed: int = zipfile.ZIP_STORED) -> bytes:
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", packed) as archive:
        for name, data in entries:
            entry = zipfile.ZipInfo(name)
            entry.external_attr = mode << 16
            entry.compress_type = packed
            archive.writestr(entry, data)
    return whole.getvalue()


def test_files_come_back_as_they_went_in():
    assert unzipped(zip_bytes(PLAIN), "a.zip") == PLAIN


def test_bytes_depend_neither_on_order_nor_on_the_time_of_day(monkeypatch):
    monkeypatch.setattr("time.time", lambda: 2e9)
    assert zip_bytes(dict(reversed(PLAIN.items()))) == zip_bytes(PLAIN)
    assert {entry.date_time for entry in zipfile.ZipFile(io.BytesIO(zip_bytes(PLAIN))).infolist()} == {
        (1980, 1, 1, 0, 0, 0)
    }


def test_another_packer_may_have_packed_it_and_listed_its_folders(tmp_path):
    path = tmp_path / "again.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("inputs/", b"")
        for name, data in reversed(PLAIN.items()):
            archive.writestr(name, data)
    assert read_zip(path) == PLAIN


@pytest.mark.parametrize(
    ("name", "problem"),
    [
        ("../evil.toml", '"../evil.toml" leads out of its folder'),
        ("inputs/../../evil", "leads out of its folder"),
        ("/etc/passwd", '"/etc/passwd" is an absolute path'),
        ("C:/evil", '"C:/evil" begins with the letter of a drive'),
        ("c:evil", "begins with the letter of a drive"),
        ("inputs\\..\\evil", "holds a backslash"),
        ("inputs/file:stream", "holds a character that not every system allows"),
        ("inputs/\x1b[2J", r'"inputs/\x1b[2J" holds a character'),
        ("inputs//a", "is a name that not every system can write"),
        ("inputs/nul.csv", "is a name that not every system can write"),
        ("inputs/a. ", "is a name that not every system can write"),
        ("a/" * 9 + "b", "lies more than 8 folders deep"),
        ("n" * 201, "is a name of more than 200 letters"),
    ],
)
def test_a_name_that_leads_elsewhere_is_refused(name, problem):
    with pytest.raises(FileError) as refused:
        unzipped(zip_of(("inputs/good.csv", b"1"), (name, b"1")), "a.zip")
    assert str(refused.value).startswith("a.zip: ")
    assert problem in str(refused.value)
    assert "good.csv" not in str(refused.value)


@pytest.mark.parametrize("name", ["../a", "pulls/a:b.csv"])
def test_what_could_not_be_read_back_is_not_written(name):
    with pytest.raises(FileError, match=f'"{name}" .*; rename it'):
        zip_bytes({name: b""})


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize(
    ("first", "second", "problem"),
    [
        ("inputs/a.csv", "inputs/a.csv", '"inputs/a.csv" stands there twice'),
        ("inputs/a.csv", "inputs/A.CSV", 'differs from "inputs/a.csv" only in case'),
        ("é.csv", "e\u0301.csv", "differs from"),
        ("inputs", "inputs/a.csv", '"inputs" is a file, and a folder in "inputs/a.csv"'),
    ],
)
def test_two_names_for_one_place_are_refused(first, second, problem):
    with pytest.raises(FileError) as refused:
        unzipped(zip_of((first, b"1"), (second, b"2")), "a.zip")
    assert problem in str(refused.value)


@pytest.mark.parametrize(("mode", "problem"), [(stat.S_IFLNK | 0o777, "is a link"), (stat.S_IFIFO, "is no plain file")])
def test_links_and_devices_are_refused(mode, problem):
    with pytest.raises(FileError, match=f'a.zip: "inputs/a" {problem}; do not open it'):
        unzipped(zip_of(("inputs/a", b"/etc/passwd"), mode=mode), "a.zip")


def test_an_encrypted_entry_is_refused():
    data = bytearray(zip_of(("a.csv", b"1")))
    for signature, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        data[data.index(signature) + place] |= 1
    with pytest.raises(FileError, match=r'"a\.csv" is encrypted'):
        unzipped(bytes(data), "a.zip")


def test_an_unusual_packing_is_refused():
    with pytest.raises(FileError, match=r'"a\.csv" is packed in a way that we do not unpack'):
        unzipped(zip_of(("a.csv", b"1"), packed=zipfile.ZIP_LZMA), "a.zip")


def test_a_bomb_is_refused_by_its_ratio_before_it_is_unpacked(monkeypatch):
    monkeypatch.setattr(zipfile.ZipFile, "read", lambda *_: pytest.fail("it was unpacked"))
    with pytest.raises(FileError, match='"zeros" unpacks to more than 200 times its size'):
        unzipped(zip_of(("zeros", bytes(2 << 20)), packed=zipfile.ZIP_DEFLATED), "a.zip")


def test_sizes_are_limited_one_by_one_and_in_all(monkeypatch):
    monkeypatch.setattr(zip_file, "MOST_FILE", 2 << 20)
    monkeypatch.setattr(zip_file, "MOST_TOTAL", 3 << 20)
    with pytest.raises(FileError, match='"large" unpacks to 2 MB; 2 MB is the most'):
        unzipped(zip_of(("large", bytes((2 << 20) + 1))), "a.zip")
    with pytest.raises(FileError, match="unpacks to 4 MB in all; 3 MB is the most"):
        unzipped(zip_of(*((f"part{n}", bytes(2 << 20)) for n in range(2))), "a.zip")


def test_an_entry_that_is_larger_than_it_says_is_not_unpacked_further():
    data = zip_of(("a", b"0" * 5000), packed=zipfile.ZIP_DEFLATED)
    at = data.index(b"PK\x01\x02") + 24
    with pytest.raises(FileError, match="is no zip that can be read"):
        unzipped(data[:at] + struct.pack("<I", 10) + data[at + 4 :], "a.zip")


def test_too_many_entries_are_refused_before_they_are_listed(monkeypatch):
    with pytest.raises(FileError, match="lists 2001 files; 2000 are the most"):
        unzipped(zip_of(*((f"f{n}", b"") for n in range(2001))), "a.zip")
    monkeypatch.setattr(zipfile.ZipFile, "__init__", lambda *_: pytest.fail("it was listed"))
    with pytest.raises(FileError, match="lists 100001 files"):
        unzipped(b"PK\x01\x02" * 100_001, "a.zip")


def test_an_archive_within_the_archive_is_refused_and_a_workbook_is_measured():
    inner = zip_of(("zeros", bytes(64 << 20)), packed=zipfile.ZIP_DEFLATED)
    with pytest.raises(FileError, match=r'"inner\.zip" is an archive within the archive'):
        unzipped(zip_of(("inner.zip", inner)), "a.zip")
    with pytest.raises(FileError, match=r'"pull\.xlsx" unpacks to 64 MB when it is read'):
        unzipped(zip_of(("pull.xlsx", inner)), "a.zip")


@pytest.mark.parametrize("content", [b"", b"no zip at all", zip_bytes(PLAIN)[:-30], zip_bytes(PLAIN)[:200]])
def test_what_is_no_zip_or_is_cut_off_is_named(tmp_path, content):
    path = tmp_path / "claim.zip"
    path.write_bytes(content)
    with pytest.raises(FileError, match=r"claim\.zip: is no zip that can be read: .+; fetch or copy it again"):
        read_zip(path)


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(FileError, match=r"none\.zip: cannot be read: no such file or directory"):
        read_zip(tmp_path / "none.zip")


def opened(data: bytes) -> dict[str, bytes]:
    """What comes of opening bytes: files, or none where we refuse; any other error is a fault of ours."""
    try:
        return unzipped(data, "a.zip")
    except FileError:
        return {}


@given(st.binary(max_size=400))
def test_no_bytes_make_the_opener_stumble(data):
    assert opened(b"PK\x03\x04" + data + b"PK\x05\x06" + data) is not None


SOUND = (zip_bytes(PLAIN), zip_of(*PLAIN.items(), packed=zipfile.ZIP_DEFLATED), zip_of(("a.xlsx", zip_bytes(PLAIN))))


@given(st.sampled_from(SOUND), st.lists(st.tuples(st.integers(0, 10_000), st.integers(0, 255)), max_size=6))
def test_no_changed_zip_makes_the_opener_stumble_or_gives_a_file_another_place(data, changes):
    changed = bytearray(data)
    for place, byte in changes:
        changed[place % len(changed)] = byte
    for name in opened(bytes(changed)):
        assert not name.startswith(("/", "../"))
        assert "/../" not in name


def test_no_single_changed_byte_makes_the_opener_stumble_or_changes_what_it_gives():
    packed, kept = SOUND[1], []
    for place in range(len(packed)):
        for bits in (1, 2, 64, 255):
            changed = bytearray(packed)
            changed[place] ^= bits
            kept += [set(opened(bytes(changed)).values()) - set(PLAIN.values())]
    assert set().union(*kept) <= {b""}  # each entry has a sum of its own that holds


@pytest.mark.parametrize("version", [99, 255])
def test_a_zip_of_a_later_kind_is_named(version):
    data = bytearray(zip_bytes(PLAIN))
    data[data.index(b"PK\x01\x02") + 6] = version
    with pytest.raises(FileError, match="is no zip that can be read: zip file version"):
        unzipped(bytes(data), "a.zip")


def test_a_place_that_no_file_has_is_named():
    """An entry says in its large-file field that it begins 2**64 - 5 bytes from the start."""
    data = bytearray(zip_of(("a", b"1")))
    entry, end = data.index(b"PK\x01\x02"), data.rindex(b"PK\x05\x06")
    field = struct.pack("<HHQ", 1, 8, 2**64 - 5)
    struct.pack_into("<I", data, end + 12, end - entry + len(field))
    struct.pack_into("<H", data, entry + 30, len(field))
    data[entry + 42 : entry + 46] = b"\xff" * 4
    data[entry + 47 : entry + 47] = field
    with pytest.raises(FileError, match=r"is no zip that can be read: .*too large"):
        unzipped(bytes(data), "a.zip")


@given(st.sampled_from((b"PAR1", b"MDF     ##DZ", b"PK\x03\x04")), st.binary(max_size=200), st.binary(max_size=8))
def test_no_nested_file_makes_the_opener_stumble(head, body, tail):
    data = head + body + tail + struct.pack("<I", len(body)) + b"PAR1"
    assert opened(zip_of(("a.xlsx", data))) is not None


def test_a_footer_that_nests_without_end_makes_the_opener_stumble_no_more():
    footer = b"\x19" * 50_000
    data = b"PAR1" + footer + struct.pack("<I", len(footer)) + b"PAR1"
    assert unzipped(zip_of(("a.parquet", data)), "a.zip") == {"a.parquet": data}
