"""Which logs of a folder are complete: those that have stopped changing, whatever logger and network do meanwhile."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from boostwright.records.log import LOG_SUFFIXES


@dataclass(frozen=True, kw_only=True)
class FileState:
    """Size, moment of writing [ns] and number of a file, and since when all of them have stood still [s]."""

    size: int
    written: int
    number: int
    since: float

    def is_still(self, other: "FileState") -> bool:
        """Whether the file is as it was."""
        return (self.size, self.written, self.number) == (other.size, other.written, other.number)


@dataclass(frozen=True, kw_only=True)
class Arrivals:
    """What is known of the files of a folder; `settled` are those that have stood still and were given out."""

    quiet: float
    files: Mapping[str, FileState] = field(default_factory=dict)
    settled: Mapping[str, FileState] = field(default_factory=dict)
    is_reachable: bool = True

    @property
    def all_settled(self) -> bool:
        """Whether every file that holds something has been given out as it is now."""
        return all(_was_given(self.settled.get(name), state) for name, state in self.files.items() if state.size)

    def looked(self, folder: Path, now: float) -> "tuple[Arrivals, tuple[str, ...]]":
        """Look once; gives what is known now and the names of files that have settled since the last look.

        A file settles once its size, date and identity have not changed for `quiet` seconds; if it changes afterwards,
        it settles again. A folder that cannot be reached changes nothing: its files are neither new nor gone.
        """
        seen = _files(folder)
        if seen is None:
            return replace(self, is_reachable=False), ()
        files: dict[str, FileState] = {}
        for name, state in seen.items():
            before = self.files.get(name)
            since = before.since if before is not None and before.is_still(state) else now
            files[name] = replace(state, since=since)
        still = {name: state for name, state in files.items() if state.size and now - state.since >= self.quiet}
        ready = [name for name, state in still.items() if not _was_given(self.settled.get(name), state)]
        settled = {name: state for name, state in self.settled.items() if name in files} | {n: still[n] for n in ready}
        return replace(self, files=files, settled=settled, is_reachable=True), tuple(sorted(ready))


def _was_given(given: FileState | None, state: FileState) -> bool:
    return given is not None and given.is_still(state)


def _files(folder: Path) -> dict[str, FileState] | None:
    """The logs of a folder as they are now, nothing if it cannot be looked into."""
    found: dict[str, FileState] = {}
    try:
        for path in folder.iterdir():
            if path.suffix.lower() in LOG_SUFFIXES and not path.name.startswith((".", "~")):
                try:
                    state = path.stat()
                except FileNotFoundError:
                    continue  # renamed or removed between the two looks
                if path.is_file():
                    found[path.name] = FileState(
                        size=state.st_size, written=state.st_mtime_ns, number=state.st_ino, since=0.0
                    )
    except OSError:
        return None
    return found
