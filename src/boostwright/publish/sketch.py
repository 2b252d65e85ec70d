"""A curve with its band as text, for the terminal: two dots across and four down in each character."""

import numpy as np
from numpy.typing import NDArray

_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))


class _Canvas:
    """A grid of braille dots."""

    def __init__(self, columns: int, rows: int) -> None:
        self.cells: NDArray[np.int64] = np.zeros((rows, columns), dtype=np.int64)

    def dot(self, x: int, y: int) -> None:
        rows, columns = self.cells.shape
        if 0 <= x < 2 * columns and 0 <= y < 4 * rows:
            self.cells[y // 4, x // 2] |= _DOTS[y % 4][x % 2]

    def lines(self) -> list[str]:
        return ["".join(chr(0x2800 + int(cell)) for cell in row) for row in self.cells]


def gain_sketch(
    engine_speed: NDArray[np.float64],
    gain: NDArray[np.float64],
    lower: NDArray[np.float64],
    upper: NDArray[np.float64],
    *,
    columns: int = 64,
    rows: int = 11,
) -> list[str]:
    """Lines of text that show a gain, the edges of its band and the zero line; percent at the left, rev/min beneath."""
    low, high = min(0.0, float(np.min(lower))), max(0.0, float(np.max(upper)))
    room = (high - low) or 1.0
    canvas = _Canvas(columns, rows)
    across = np.linspace(engine_speed[0], engine_speed[-1], 2 * columns)

    def height(value: float) -> int:
        return round((high - value) / room * (4 * rows - 1))

    for x, speed in enumerate(across):
        for values, every in ((gain, 1), (lower, 3), (upper, 3)):
            if x % every == 0:
                canvas.dot(x, height(float(np.interp(speed, engine_speed, values))))
    zero = height(0.0) // 4
    lines: list[str] = []
    for row, text in enumerate(canvas.lines()):
        label = {0: f"{high:+.1f} %", zero: "0 %", rows - 1: f"{low:+.1f} %"}.get(row, "")
        drawn = "".join("─" if row == zero and mark == "\u2800" else mark for mark in text)
        lines.append(f"{label:>8} {drawn}")
    from_rpm, to_rpm = f"{60 * engine_speed[0]:.0f}", f"{60 * engine_speed[-1]:.0f} rev/min"
    lines.append(f"{'':>8} {from_rpm}{to_rpm:>{columns - len(from_rpm)}}")
    return lines
