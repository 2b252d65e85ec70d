"""What a part is taken to be while nobody has said: a value, the range it may have, and where the figure comes from."""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Default:
    """A documented default of one word: its value at the reference size, its 95 % range, how it scales, its source."""

    word: str
    value: float
    low: float
    high: float
    scaling: str
    source: str

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise ValueError(f"default of {self.word}: {self.value} lies outside its own range {self.low}..{self.high}")
