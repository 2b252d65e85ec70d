"""What came of checking a bundle, as it is printed in the terminal."""

from rich.console import Console
from rich.table import Table
from rich.text import Text

from boostwright.publish.agreement import TOLERANCE, Status
from boostwright.publish.terminal import say
from boostwright.publish.verify import Outcome, Verification
from boostwright.studies.words import joined

_HEADS = {
    Outcome.HOLDS: "holds: computed again from its inputs, everything in it is as it says",
    Outcome.OPEN: "is not fully checked: nothing is wrong in what could be checked",
    Outcome.FAILS: "does not hold",
    Outcome.REFUSED: "is refused, and was not unpacked",
}
_LOOKS = {Status.HOLDS: "bold blue", Status.FAILS: "bold dark_orange3", Status.OPEN: "bold", Status.ABSENT: "dim"}


def print_verification(found: Verification, console: Console) -> None:
    """Print the outcome, the claim, and what was checked, what does not hold first said and then listed."""
    is_well = found.outcome is Outcome.HOLDS
    say(console, f"{_printable(found.file)} {_HEADS[found.outcome]}", "bold" if is_well else "bold dark_orange3")
    if found.outcome is Outcome.REFUSED:
        for check in found.checks:
            say(console, f"• {_printable(check.words)}")
        return
    if found.claim:
        say(console, f"{'Claim' if is_well else 'Claim as stated'}: {_printable(found.claim)}")
    console.print()
    console.print(_table(found))
    console.print()
    say(console, _numbers(found))
    if not found.is_signer_known:
        say(console, "Who made it is not known: get the maker's public key by another way, and give it with --key.")


def _table(found: Verification) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    table.add_column("checked", no_wrap=True)
    table.add_column("outcome", no_wrap=True)
    table.add_column("")
    for check in found.checks:
        what = _printable(check.file) if check.name in ("file", "recompute") else check.name
        is_above = check.name == "claim" and check.status is Status.HOLDS
        words = "the sentence above" if is_above else _printable(check.words)
        table.add_row(Text(what), Text(check.status.value, style=_LOOKS[check.status]), Text(words))
    return table


def _numbers(found: Verification) -> str:
    numbers = [value for value in found.values if value.is_number]
    holding = sum(value.status is Status.HOLDS for value in numbers)
    counted = f"{holding} of {len(numbers)} numbers hold"
    if found.is_exact:
        return f"{counted}, to the last digit: the versions and the arithmetic are those that it was made with."
    keys = dict.fromkeys((*found.made_with, *found.checked_with))
    apart = [
        f"{key} {_printable(found.made_with.get(key, 'not said'))} (here {found.checked_with.get(key, 'none')})"
        for key in keys
        if found.made_with.get(key) != found.checked_with.get(key)
    ]
    largest = f"the largest difference is {100.0 * found.largest_difference:.2g} %"
    return (
        f"{counted} within {100.0 * TOLERANCE:g} % of the largest number of their list; {largest}. "
        f"It was made with {joined(apart)}."
    )


def _printable(text: str) -> str:
    """A stranger's text without what a terminal would obey."""
    return "".join(letter if letter.isprintable() or letter in "\u202f\u00a0" else "�" for letter in text)
