"""Colours and lines that mean the same in every figure, page and report: colour-blind safe, and never colour alone.

The print set: contrast on white at least 4.5 for text and 3 for marks.
"""

from typing import Final

PAPER: Final = "#ffffff"
INK: Final = "#000000"
INK_SECOND: Final = "#2e2e2e"
INK_THIRD: Final = "#4a4a4a"
EDGE: Final = "#777777"
GRID: Final = "#e4e4e4"
BASELINE: Final = "#4d4d4d"
CANDIDATE: Final = "#0a4f8a"
LOSS: Final = "#9a4208"
OPEN: Final = "#666666"
LIMIT: Final = "#4b0a52"
WARN: Final = "#5c3e00"
BAND_OPACITY: Final = 0.15
PULL_OPACITY: Final = 0.47
BASELINE_DASH: Final = (0, (3.6, 2.2))
