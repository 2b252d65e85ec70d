"""ASAM MDF4 through asammdf, an extra; channels are brought to the finest of their rasters by linear interpolation."""

import importlib
import logging
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostwright.errors import Fault, FileError
from boostwright.records.mdf_blocks import endless_list
from boostwright.records.table import CellFaults, Cells, Table, tidy

_MOST_PACKED = 1032  # times its size is the most that a deflated block unpacks to


def open_mdf(path: Path) -> Table:
    """Return the channels of an MDF file as a table; its last column is the time of their common raster.

    Raises
    ------
    FileError
        If the reader is not installed, or the file is not MDF.
    """
    mdf = _open(path)
    try:
        _refuse_misplaced(mdf)
        _refuse_larger_than(_MOST_PACKED * path.stat().st_size, mdf)
    except FileError:
        mdf.close()
        raise
    places = [
        (group, index)
        for group, entry in enumerate(mdf.groups)
        for index in range(len(entry.channels))
        if index != mdf.masters_db.get(group)
    ]
    if not places:
        raise FileError([Fault(problem="holds no channels", remedy="check that the logger has saved the pull")])
    channels = [mdf.groups[group].channels[index] for group, index in places]
    headers = (*(tidy(channel.name) for channel in channels), "time")
    units = (*(tidy(channel.unit) for channel in channels), "s")

    def read(positions: Sequence[int]) -> Cells:
        signals = {place: _signal(mdf, places[place]) for place in positions if place < len(places)}
        return _on_one_raster(signals, headers)

    return Table(headers=headers, units=units, read=read)


def _refuse_misplaced(mdf: Any) -> None:
    """The compiled part of the reader takes a channel's place in its record on trust, and reads whatever lies there."""
    for entry in mdf.groups:
        for channel in entry.channels:
            if mdf.version < "4.00":
                start = channel.start_offset + 8 * getattr(channel, "additional_byte_offset", 0)
            else:
                start = 8 * channel.byte_offset + channel.bit_offset
            if start + channel.bit_count > 8 * entry.channel_group.samples_byte_nr:
                raise _broken(f'channel "{tidy(channel.name)}" lies outside its record')


def _refuse_larger_than(size: int, mdf: Any) -> None:
    """Room for all records is made before the first of them is looked for."""
    for entry in mdf.groups:
        group = entry.channel_group
        record = group.samples_byte_nr + getattr(group, "invalidation_bytes_nr", 0)
        if record * max(1, group.cycles_nr) > size or group.cycles_nr > size:
            raise _broken(f"a group says that it holds {group.cycles_nr} records of {record} bytes")
        if not group.cycles_nr and any(block.original_size for block in entry.get_data_blocks()):
            raise _broken("a group says that it holds no records, and has data")  # the reader would never end


def _open(path: Path) -> Any:
    try:
        asammdf = importlib.import_module("asammdf")
    except ImportError as missing:
        remedy = 'install it: pip install "boostwright[mdf]"'
        raise FileError([Fault(problem="is MDF, and its reader asammdf is not installed", remedy=remedy)]) from missing
    with path.open("rb") as file:
        if not file.read(8).startswith((b"MDF     ", b"UnFinMF ")):
            raise _broken("it does not begin as one")
    if wrong := endless_list(path):
        raise _broken(wrong)
    logging.getLogger("asammdf").setLevel(logging.CRITICAL)  # it prints what it then raises
    try:
        return asammdf.MDF(path)
    except Exception as wrong:
        raise _broken(str(wrong)) from wrong


def _signal(mdf: Any, place: tuple[int, int]) -> Any:
    try:
        return mdf.get(group=place[0], index=place[1])
    except Exception as wrong:
        raise _broken(str(wrong)) from wrong


def _broken(reason: str) -> FileError:
    problem = f"cannot be read as MDF: {reason or 'it is damaged'}"
    return FileError([Fault(problem=problem, remedy="export the pull again, or as CSV")])


def _on_one_raster(signals: dict[int, Any], headers: Sequence[str]) -> Cells:
    faults = CellFaults(headers)
    usable = {position: signal for position, signal in signals.items() if _is_usable(position, signal, headers, faults)}
    time = _common_raster([signal.timestamps for signal in usable.values()])
    if usable and not time.size:
        remedy = "log all channels through the whole pull"
        faults.add(Fault(problem="holds channels that were never logged at the same time", remedy=remedy))
    values = {position: np.interp(time, signal.timestamps, signal.samples) for position, signal in usable.items()}
    values[len(headers) - 1] = time
    return Cells(values=values, rows=np.arange(1, time.size + 1), faults=faults.all())


def _is_usable(position: int, signal: Any, headers: Sequence[str], faults: CellFaults) -> bool:
    if signal.samples.ndim != 1 or signal.samples.dtype.kind not in "fiub" or not signal.samples.size:
        problem = "holds no numbers" if signal.samples.size else "is empty"
        remedy = 'leave it out: say "ignore" for it under [columns]'
        faults.add(Fault(column=headers[position], problem=problem, remedy=remedy))
        return False
    samples = signal.samples.astype(np.float64)
    bad = np.flatnonzero(~np.isfinite(samples))
    faults.add_cells(position, bad + 1, samples[bad].astype(str).tolist())
    return not bad.size


def _common_raster(rasters: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return the times of the finest raster within the span that all of them cover."""
    start = max((raster[0] for raster in rasters), default=0.0)
    end = min((raster[-1] for raster in rasters), default=0.0)
    within = [raster[(raster >= start) & (raster <= end)] for raster in rasters]
    return max(within, key=len, default=np.empty(0))
