"""The command line of a study over invented campaigns: how many, from which seed, and where its page goes."""

import argparse
from pathlib import Path


def asked_campaigns(doc: str | None, campaigns: int, first_seed: int) -> argparse.ArgumentParser:
    """A parser with `--campaigns`, `--first-seed` and `--write FILE`."""
    parser = argparse.ArgumentParser(description=doc)
    parser.add_argument("--campaigns", type=int, default=campaigns)
    parser.add_argument("--first-seed", type=int, default=first_seed)
    parser.add_argument("--write", type=Path, metavar="FILE", help="the page; without it the text is printed")
    return parser


def tell(text: str, target: Path | None) -> None:
    """Write the page, or print it."""
    if target:
        target.write_text(text, encoding="utf-8")
    else:
        print(text)
