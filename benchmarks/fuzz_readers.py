"""What is fuzzed: every reader as a function of bytes, the files that its inputs are bred from, and how they are bred.

A reader takes bytes, or text as a person types it, and returns anything, or refuses in words. `unsound` says what
breaks that promise. The examples and a few tables of our own are the first parents; all of their data is invented.
"""

import io
import random
import re
import tempfile
import unicodedata
import zipfile
import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import numpy as np
import polars as pl
import xlsxwriter

from boostwright.errors import BoostwrightError, Fault, FileError
from boostwright.publish.bundle_seal import MANIFEST, json_of, seal_faults, signature_of
from boostwright.records.archive import (
    Archive,
    ArchivedPull,
    PullDescription,
    Search,
    add_pulls,
    archived_channels,
    created,
    found_pulls,
)
from boostwright.records.archive_upkeep import channels_csv, check_archive, repair_archive
from boostwright.records.blower_map_file import read_blower_map
from boostwright.records.build_file import read_build_file
from boostwright.records.build_keys import COUNT, CURVE, KEYS, SWITCH, WORD
from boostwright.records.campaign import read_campaign, read_column_rules
from boostwright.records.campaign_writer import write_campaign
from boostwright.records.columns import parse_rule
from boostwright.records.log import read_log
from boostwright.records.pull import read_pulls
from boostwright.records.sheet_file import read_sheet_notes
from boostwright.records.zip_file import read_zip, zip_bytes
from boostwright.studies.match_request import ambient_from_text, speeds_from_text
from boostwright.studies.plan_request import duration_from_text, gain_from_text, range_from_text
from boostwright.studies.pulley_request import (
    pulleys_from_text,
    risk_from_text,
    target_from_texts,
    target_speed_from_text,
)
from boostwright.studies.vary import Search as DesignSearch
from boostwright.studies.vary_request import goal_from_text, search_from_text, variation_from_text
from boostwright.units import UnitError, find_unit, parse_quantity, parse_unit

EXAMPLES = Path(__file__).parents[1] / "examples"
_DIMENSIONS = (*sorted({key.holds for key in KEYS} - {WORD, CURVE, SWITCH, COUNT}), "time", "fraction", "speed")
_ODD_NUMBERS = b"0 -1 1e308 -1e308 1e-320 1e999 nan inf -inf 99999999999999999999 0x10 1_000 1,5 1.234.567,8 2e".split()
_ODD_BYTES = (b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\r", b"\r\n", b'"', b"'", b"\x1b[2J", b"\x1f", "\u202e".encode())


@dataclass(frozen=True, kw_only=True)
class Reader:
    """One reader: what it does with the bytes of an input, its first parents, words of its format, and its packing."""

    name: str
    read: Callable[[bytes, Path], object]
    parents: Callable[[], Sequence[bytes]]
    words: Sequence[bytes] = ()
    is_zip: bool = False


def unsound(wrong: BaseException) -> str:
    """What makes a refusal one that nobody can act on; nothing if it names place, fault and remedy."""
    if not isinstance(wrong, BoostwrightError):
        return f"{type(wrong).__name__} is no refusal"
    faults = wrong.faults if isinstance(wrong, FileError) else (wrong.fault,) if isinstance(wrong, UnitError) else ()
    if not str(wrong).strip() or (isinstance(wrong, FileError) and not faults):
        return "says nothing"
    if any(not fault.problem.strip() or not fault.remedy.strip() for fault in faults):
        return "names no fault or no remedy"
    if not all(map(_has_place, faults)):
        return "names no place"
    if any(unicodedata.category(mark)[0] == "C" or mark in "\u2028\u2029" for mark in str(wrong).replace("\n", "")):
        return "holds a mark that a terminal would obey"
    return ""


def _has_place(fault: Fault) -> bool:
    return bool(fault.file or fault.column or fault.key or fault.value or fault.row is not None)


def _file_reader(read: Callable[[Path], object], name: str) -> Callable[[bytes, Path], object]:
    def of(data: bytes, folder: Path) -> object:
        path = folder / name
        path.write_bytes(data)
        return read(path)

    return of


def _campaign(data: bytes, folder: Path) -> object:
    builds = [f"builds/{name}.toml" for name in ("cast", "machined", "short", "long", "polished", "large", "small")]
    for name, content in (("pulls/01.csv", _LOG), ("pulls/02.csv", _LOG), *((name, b"") for name in builds)):
        if not (folder / name).is_file():
            (folder / name).parent.mkdir(exist_ok=True)
            (folder / name).write_bytes(content)
    (folder / "campaign.toml").write_bytes(data)
    read_column_rules(folder)
    campaign = read_campaign(folder)
    read_pulls(campaign)
    write_campaign(campaign)
    if read_campaign(folder) != campaign:
        raise AssertionError("a campaign that was written is read as another")
    return campaign


def _archived(data: bytes, folder: Path) -> object:
    archive, pulls = _archive_in(folder)
    archive.path(pulls[0]).write_bytes(data)
    faults = tuple(check_archive(archive))
    if zlib.crc32(data) % 8 == 0:  # it takes as long as all the rest
        lost = archive.path(pulls[0]).with_name(f"{'0' * 64}.parquet")
        lost.write_bytes(data)
        repair_archive(archive.folder, now=4e9)
        lost.unlink()
    channels_csv({name: values for name, values in archived_channels(archive, pulls[0]).items() if name in _CHANNELS})
    if faults:
        raise FileError(faults)
    return pulls


@cache
def _archive_in(folder: Path) -> tuple[Archive, Sequence[ArchivedPull]]:
    archive = created(folder / "archive")
    [*_] = add_pulls(archive, [(_DESCRIBED, _CHANNELS)], datetime(2026, 3, 20, tzinfo=UTC))
    return archive, found_pulls(archive, Search())


def _bundle(data: bytes, folder: Path) -> object:
    path = folder / "claim.zip"
    path.write_bytes(data)
    files = read_zip(path)
    return seal_faults(files), signature_of(files, None), [json_of(content) for content in files.values()]


def _typed(data: bytes) -> str:
    """Text as the shell hands it over, whatever its bytes; it cannot hold the byte that ends it."""
    return data.replace(b"\0", b"").decode("utf-8", "surrogateescape")


def _each(*asked: Callable[[], object]) -> list[object]:
    """Ask all of them; the last refusal stands, another failure at once."""
    answers: list[object] = []
    refusal: BoostwrightError | None = None
    for ask in asked:
        try:
            answers.append(ask())
        except BoostwrightError as wrong:
            if unsound(wrong):
                raise
            refusal = wrong
    if not answers and refusal is not None:
        raise refusal
    return answers


def _units(data: bytes, _folder: Path) -> object:
    text = _typed(data)
    find_unit(text)
    return _each(
        lambda: parse_unit(text),
        lambda: parse_rule("A", text),
        *(lambda dimension=dimension: parse_quantity(text, dimension=dimension) for dimension in _DIMENSIONS),
    )


def _requests(data: bytes, _folder: Path) -> object:
    text = _typed(data)
    build = _cast_build()
    return _each(
        lambda: ambient_from_text(text),
        lambda: speeds_from_text(text),
        lambda: range_from_text(text),
        lambda: duration_from_text(text, "--pull"),
        lambda: gain_from_text(text),
        lambda: variation_from_text(text, build, DesignSearch.GRID),
        lambda: variation_from_text(text, build, DesignSearch.LATIN),
        lambda: search_from_text(text, 3),
        lambda: goal_from_text(text, [text], 0.05),
        lambda: pulleys_from_text(text),
        lambda: risk_from_text(text),
        lambda: target_from_texts(text, None),
        lambda: target_from_texts(None, text),
        lambda: target_speed_from_text(text, np.array([50.0, 60.0])),
    )


@cache
def _cast_build():
    return read_build_file(EXAMPLES / "inlet-elbow" / "builds" / "cast.toml")


_LOG = b"time [s],rpm,Torque [lb-ft],MAP [kPa abs]\n" + b"".join(
    f"{row / 10:.1f},{3000 + 20 * row},{380 + row % 7},{151.5 + row / 50:.2f}\n".encode() for row in range(24)
)
_CHANNELS = {"engine_speed": np.linspace(50.0, 96.0, 20), "torque": np.linspace(400.0, 450.0, 20)}
_DESCRIBED = PullDescription(
    campaign="Elbow",
    stand="bench 2",
    engine_family="workboat six",
    setup="cast",
    build="",
    file="pulls/01.csv",
    session="2026-03-14",
    installation=1,
    started="2026-03-14T09:12:00",
    barometer=1.006e5,
    air_temperature=297.0,
    relative_humidity=0.52,
    soak_temperature=None,
    speed_from=50.0,
    speed_to=96.0,
    correction="none",
    level=6.1,
    fault="",
)


def _top(path: Path, rows: int = 14) -> bytes:
    return b"".join(path.read_bytes().splitlines(keepends=True)[:rows])


def _texts() -> list[bytes]:
    logs = [_top(path) for folder in ("inlet-elbow", "pulley-v6", "propane-pump") for path in _logs(folder)[:1]]
    logs += [_top(EXAMPLES / "inlet-elbow" / "pulls" / "05-cast.tsv"), _LOG]
    german = "Zeit [s];Drehzahl [1/min];Drehmoment [N·m];Ladedruck [mbar gauge]\n" + "".join(
        f"{row / 10:.1f};{1.2 + row / 50:.3f};3.{100 + row},5;{400 + row},25\n".replace(".", ",", 1) for row in range(9)
    )
    typed = 'engine_speed [rpm]|torque [N*m]\n"3 000"|"401,5"\n3\'050|402,5\n3\u202f100|403\n'
    dressed = [text.encode(encoding) for text in (german, typed) for encoding in ("utf-8-sig", "utf-16", "utf-16-be")]
    return [*logs, german.encode("latin-1"), *dressed]


def _logs(folder: str) -> list[Path]:
    return sorted(path for path in (EXAMPLES / folder / "pulls").iterdir() if path.suffix in (".csv", ".tsv"))


def _workbooks() -> list[bytes]:
    books: list[bytes] = []
    for sheets, units in ((1, False), (2, True)):
        whole = io.BytesIO()
        with xlsxwriter.Workbook(whole, {"in_memory": True}) as book:
            for number in range(sheets):
                sheet = book.add_worksheet()
                sheet.write_row(0, 0, ["rpm", "Torque", "note"] if units else ["rpm", "Torque [N*m]", "note"])
                if units:
                    sheet.write_row(1, 0, ["1/min", "lb-ft", ""])
                for row in range(2, 8):
                    sheet.write_row(row, 0, [3000 + 20 * row, 401.5 + row, "ok"] if number == 0 else ["3 000,5", "1,2"])
                sheet.write_formula(8, 0, "=A3*2", value=3200)
                sheet.write_row(8, 1, [405.0, True])
        books.append(whole.getvalue())
    return books


def _parquets() -> list[bytes]:
    frame = pl.read_csv(_LOG)
    frames = [frame, frame.with_columns(pl.col("time [s]").mul(1e6).cast(pl.Duration("us")))]
    frames += [frame.cast(pl.String), frame.with_columns(pl.lit([1.0]).alias("list"), pl.lit(None).alias("none"))]
    return [_parquet(one, packing) for one in frames for packing in ("uncompressed", "snappy", "zstd")]


def _parquet(frame: pl.DataFrame, packing: str) -> bytes:
    whole = io.BytesIO()
    frame.write_parquet(whole, compression=packing)
    return whole.getvalue()


def _mdfs() -> list[bytes]:
    from asammdf import MDF, Signal

    time = np.arange(12) / 10.0
    made: list[bytes] = []
    for version, packing, suffix in (
        ("4.10", 0, ".mf4"),
        ("4.10", 2, ".mf4"),
        ("4.20", 1, ".mf4"),
        ("3.30", 0, ".mdf"),
    ):
        with MDF(version=version) as mdf:
            mdf.append([Signal(3000 + 20 * time, time, name="rpm", unit="1/min")])
            mdf.append([Signal(400 + time, time, name="Torque", unit="N*m"), Signal(time > 0.5, time, name="flag")])
            with tempfile.TemporaryDirectory() as folder:
                made.append(mdf.save(Path(folder) / f"a{suffix}", compression=packing).read_bytes())
    return made


def _archived_parents() -> list[bytes]:
    with tempfile.TemporaryDirectory() as folder:
        archive = created(Path(folder) / "archive")
        [addition] = add_pulls(archive, [(_DESCRIBED, _CHANNELS)], datetime(2026, 3, 20, tzinfo=UTC))
        return [archive.path(addition.pull).read_bytes(), *_parquets()[:4]]


def _bundles() -> list[bytes]:
    files = {"inputs/campaign.toml": b"title = 'x'\n", "results/claim.json": b'{"a": [1, 2.5]}', "signature": b"x" * 64}
    listed = b'{"format": 1, "files": {"inputs/campaign.toml": {"bytes": 12, "sha256": "0"}}}'
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("inputs/", b"")
        archive.writestr("inputs/pulls/01.csv", _LOG)
        archive.writestr("inputs/pulls/02.xlsx", _workbooks()[0])
        archive.writestr("inputs/pulls/03.parquet", _parquets()[1])
    return [zip_bytes({**files, MANIFEST: listed}), whole.getvalue()]


def _of(pattern: str) -> list[bytes]:
    return [path.read_bytes() for path in sorted(EXAMPLES.glob(pattern))]


def _campaigns() -> list[bytes]:
    small = (
        b'title = "Elbow"\nbaseline = "cast"\ncandidate = "machined"\nspeed_range_rpm = [3000, 5800]\n'
        b'[stand]\nname = "bench 2"\nkind = "engine"\nrotating_inertia = "0.45 kg*m**2"\n'
        b'[setups.cast]\nbuild = "builds/cast.toml"\n[setups.machined]\n'
        b'[columns]\n"MAP" = "manifold_pressure [kPa abs]"\n'
        b'[[pulls]]\nfile = "pulls/01.csv"\nsetup = "cast"\nstarted = 2026-03-14T09:12:00\nbarometer = "1006 hPa"\n'
        b'air_temperature = "24 degC"\nrelative_humidity = 0.52\nsoak_temperature = "31 degC"\n'
        b'[[pulls]]\nfile = "pulls\\\\02.csv"\nsetup = "machined"\nstarted = 2026-03-14T10:12:00\n'
        b"session = 2026-03-14\n"
    )
    return [small, small.replace(b":00\n", b":00+02:00\n"), *_of("*/campaign.toml")]


def _map_parents() -> list[bytes]:
    head = b"rotor_speed [rpm],pressure_ratio,mass_flow [kg/s],outlet_temperature [degC],shaft_power [kW],"
    rows = b"6000,1.2,0.155,48.1,4.1,99.8,22\n6000,1.6,0.146,85.0,10.5,99.5,22\n12000,1.6,0.325,83.2,22.9,98.9,23\n"
    other = head.replace(b"mass_flow [kg/s]", b"volume_flow [m3/h]").replace(
        b"outlet_temperature [degC]", b"isentropic_efficiency [%]"
    )
    end = b"inlet_pressure [kPa],inlet_temperature [degC]\n"
    return [head + end + rows, other + end + rows, (head + end + rows).replace(b",", b";").replace(b".", b",")]


def _toml_words() -> list[bytes]:
    marks = [b"[[", b"]]", b'"""', b"'''", b"\\u0000", b"\\uD800", b"{", b"}", b"[" * 60, b"{a=" * 40, b"9" * 80]
    return [
        *marks,
        b"9" * 4400,
        b"1e400",
        b"0x1F",
        b"2026-02-30T25:61:00",
        b"0000-01-01",
        b"inf",
        b"true",
        b"\n[a.b]\n",
    ]


_PATH_WORDS = (b"../", b"\\\\", b"C:", b"nul", b"/", b"~", b"\\u0000", b"n" * 300)
_UNIT_WORDS = tuple(
    b"%,kPa,psi,psi gauge,inHg vac,mbar abs,degC,degF,K,rpm,1/s,L,cc/min,cm2,mm,in,AFR/14.7,h".split(b",")
)

READERS = {
    reader.name: reader
    for reader in (
        Reader(name="text", read=_file_reader(read_log, "01.csv"), parents=_texts, words=_UNIT_WORDS),
        Reader(name="workbook", read=_file_reader(read_log, "01.xlsx"), parents=_workbooks, is_zip=True),
        Reader(name="parquet", read=_file_reader(read_log, "01.parquet"), parents=_parquets),
        Reader(name="mdf", read=_file_reader(read_log, "01.mf4"), parents=_mdfs, words=(b"##DZ", b"##DT", b"##CN")),
        Reader(name="campaign", read=_campaign, parents=_campaigns, words=(*_toml_words(), *_PATH_WORDS)),
        Reader(
            name="build",
            read=_file_reader(read_build_file, "cast.toml"),
            parents=lambda: _of("*/builds/*.toml"),
            words=(*_toml_words(), *_UNIT_WORDS, *(key.path.encode() for key in KEYS)),
        ),
        Reader(
            name="blower map", read=_file_reader(read_blower_map, "map.csv"), parents=_map_parents, words=_UNIT_WORDS
        ),
        Reader(
            name="sheet notes",
            read=_file_reader(read_sheet_notes, "notes.toml"),
            parents=lambda: [*_of("inlet-elbow/sheet-notes.toml"), b'title = "Kit"\n[notes]\n"Belt" = "350 N"\n'],
            words=_toml_words(),
        ),
        Reader(name="bundle", read=_bundle, parents=_bundles, words=(*_PATH_WORDS, b"PK\x01\x02"), is_zip=True),
        Reader(name="archive", read=_archived, parents=_archived_parents),
        Reader(
            name="units",
            read=_units,
            parents=lambda: [b"4.2 L", b"100 kPa abs", b"-3,5 degC", b"torque [N*m]", b"14.7", b"AFR/14.7", b"52 %"],
            words=_UNIT_WORDS,
        ),
        Reader(
            name="requests",
            read=_requests,
            parents=lambda: [
                b"100 kPa, 25 degC, 0.4",
                b"2000:6000:100",
                b"3000:5800",
                b"6 min",
                b"1 %",
                b"inlet.port_closing_angle=200:240:9",
                b"drive.driven_pulley=64mm:72mm:5",
                b"average",
                b"5500 rpm",
                b"2000 rpm, 2 kW",
                b"66 mm, 68 mm, 70 mm",
                b"55 kPa",
            ],
            words=(*_UNIT_WORDS, b":", b"=", *(key.path.encode() for key in KEYS)),
        ),
    )
}


def bred(data: bytes, others: Sequence[bytes], reader: Reader, chance: random.Random) -> bytes:
    """Another input, bred from one and a few others: within a packed file mostly one of its parts is changed."""
    if reader.is_zip and chance.random() < 0.8:
        with_parts = _bred_zip(data, reader, chance)
        if with_parts is not None:
            return with_parts
    for _ in range(chance.choice((1, 1, 1, 2, 3, 6))):
        data = _changed(data, others, reader.words, chance)
    return data


def _bred_zip(data: bytes, reader: Reader, chance: random.Random) -> bytes | None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = {entry.filename: archive.read(entry) for entry in archive.infolist()[:40]}
    except Exception:  # noqa: BLE001  (a parent that is broken already is changed as plain bytes)
        return None
    if not parts or sum(map(len, parts.values())) > 1 << 20:
        return None
    names = list(parts)
    changed = chance.choice(names)
    for _ in range(chance.choice((1, 1, 2, 4))):
        parts[changed] = _changed(parts[changed], list(parts.values()), reader.words or _XML_WORDS, chance)
    if chance.random() < 0.1:
        name = _changed(changed.encode(), [b"a"], _PATH_WORDS, chance).decode("utf-8", "replace")
        parts[name] = parts.pop(changed)
    whole = io.BytesIO()
    packing = chance.choice((zipfile.ZIP_DEFLATED, zipfile.ZIP_STORED))
    try:
        with zipfile.ZipFile(whole, "w", packing) as archive:
            for name, content in parts.items():
                archive.writestr(zipfile.ZipInfo(name), content, packing)
    except Exception:  # noqa: BLE001  (a name that cannot be written)
        return None
    return whole.getvalue()


_XML_WORDS = tuple(b'<c r="A9"><v>|</v>|</c>|t="s"|t="e"|r="XFD1048576"|<row r="1048576">|&amp;|<f>'.split(b"|"))


def _changed(data: bytes, others: Sequence[bytes], words: Sequence[bytes], chance: random.Random) -> bytes:
    """One change of a few bytes or of a piece; near the end as often as anywhere, where footers and directories are."""
    size = len(data)
    at = chance.randrange(size + 1) if chance.random() < 0.75 else max(0, size - chance.randrange(1, 400))
    length = min(size - at, chance.choice((1, 1, 2, 4, 8, 30, 200)))
    piece = data[at : at + length]
    kind = chance.randrange(12)
    if kind == 0 and piece:
        return data[:at] + bytes([piece[0] ^ (1 << chance.randrange(8))]) + data[at + 1 :]
    if kind == 1 and piece:
        return data[:at] + bytes([chance.randrange(256)]) + data[at + 1 :]
    if kind == 2:
        return data[:at] + data[at + length :]
    if kind == 3:
        return data[:at] + piece * chance.choice((2, 2, 3, 50)) + data[at + length :]
    if kind == 4 and words:
        return data[:at] + chance.choice(words) + data[at:]
    if kind == 5 and words:
        return data[:at] + chance.choice(words) + data[at + length :]
    if kind == 6:
        return data[:at] + chance.choice(_ODD_BYTES) + data[at + chance.randrange(2) :]
    if kind == 7:
        other = chance.choice(others) if others else data
        start = chance.randrange(len(other) + 1)
        return data[:at] + other[start : start + chance.choice((4, 20, 200))] + data[at + length :]
    if kind == 8 and (found := list(re.finditer(rb"\d[\d.,]*", data[:20_000]))):
        number = chance.choice(found)
        return data[: number.start()] + chance.choice(_ODD_NUMBERS) + data[number.end() :]
    if kind == 9 and size > 8:
        width = chance.choice((2, 4, 8))
        value = chance.choice((0, 1, 255, 65535, 2**31 - 1, 2**32 - 1, 2**63 - 1, size, chance.randrange(1 << 20)))
        return data[:at] + (value % (1 << 8 * width)).to_bytes(width, "little") + data[at + width :]
    if kind == 10 and (lines := data.splitlines(keepends=True)):
        line = chance.randrange(len(lines))
        other = chance.randrange(len(lines))
        lines[line], lines[other] = lines[other], lines[line]
        return b"".join(lines if chance.random() < 0.5 else [*lines[:line], *lines[line + 1 :]])
    return (
        data[:at] if chance.random() < 0.2 else data[:at] + bytes(chance.randrange(256) for _ in range(4)) + data[at:]
    )
