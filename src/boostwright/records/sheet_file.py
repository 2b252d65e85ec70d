"""What a maker adds to an application sheet: its title, and notes on torque, belt and fitting, word for word."""

from dataclasses import dataclass, replace
from pathlib import Path

from boostwright.errors import Fault, FileError
from boostwright.records.toml import TomlTable, read_toml


@dataclass(frozen=True, kw_only=True)
class SheetNotes:
    """Title and notes of an application sheet, as the maker wrote them; nothing of it is checked by us."""

    title: str = ""
    notes: tuple[tuple[str, str], ...] = ()


def read_sheet_notes(path: Path) -> SheetNotes:
    """Read the notes of a sheet.

    Raises
    ------
    FileError
        With every fault of the file, each at its key path.
    """
    faults: list[Fault] = []
    top = TomlTable(read_toml(path, "check its name; the notes are optional"), faults)
    title, table = top.text("title", 'write title = "Kit 7 for the workboat six"'), top.table("notes")
    example = 'write "Belt tension" = "350 N a strand, checked again after ten hours"'
    notes = [(name, table.text(name, example)) for name in table.written()]
    top.finish()
    if faults:
        raise FileError([replace(fault, file=str(path)) for fault in faults])
    return SheetNotes(title=title or "", notes=tuple((name, text) for name, text in notes if text is not None))
