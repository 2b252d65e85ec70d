"""Checking a bundle: opened safely, its seal judged, and everything in it computed again from its inputs."""

import json
import math
import re
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from hashlib import sha256
from pathlib import Path, PurePosixPath
from typing import Any, cast

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from boostwright.errors import BoostwrightError, FileError
from boostwright.publish.agreement import TOLERANCE, Agreement, Leaf, Status, agreements
from boostwright.publish.bundle import (
    ASKED,
    DESCRIPTOR,
    FORMAT,
    INPUTS,
    REQUEST,
    RESULTS,
    VERSIONS,
    Contents,
    bundle_contents,
    requested,
)
from boostwright.publish.bundle_seal import MANIFEST, SIGNATURE, SIGNER, json_of, manifest, seal_faults, signature_of
from boostwright.publish.versions import versions
from boostwright.records.zip_file import read_zip

CLAIM = f"{RESULTS}/claim.json"

_COMPARED = (".json", ".csv", ".txt")
_FOLLOWS_VERSION = ("check_code",)
_BEFORE, _BEHIND = 40, 40  # letters shown of two texts before and behind the place from which they differ
_VERSION = re.compile(r"\d+(\.\d+)*\w{0,8}")  # nothing else passes for a version in the words of a report
_NOT_INSTALLED = "is not installed"


class Outcome(StrEnum):
    """What came of checking a whole bundle; only the first lets a script go on."""

    HOLDS = "holds"
    OPEN = "not fully checked"
    FAILS = "does not hold"
    REFUSED = "refused"


@dataclass(frozen=True, kw_only=True)
class Check:
    """One thing that was checked: what it is, the file that it is about, what came of it and why."""

    name: str
    file: str
    status: Status
    words: str


@dataclass(frozen=True, kw_only=True)
class Verification:
    """All that was checked of a bundle, with every value as it is stated and as it was computed again."""

    file: str
    outcome: Outcome
    claim: str
    checks: tuple[Check, ...]
    values: tuple[Agreement, ...]
    made_with: Mapping[str, str]
    checked_with: Mapping[str, str]
    is_signer_known: bool

    @property
    def is_exact(self) -> bool:
        """Whether it was checked with what it was made with, so that every digit has to be the same."""
        return dict(self.made_with) == dict(self.checked_with)

    @property
    def largest_difference(self) -> float:
        """The largest difference of any number, in parts of the largest number of its list."""
        return max((value.difference for value in self.values if value.difference is not None), default=0.0)

    def as_json(self) -> dict[str, object]:
        """The verification as JSON; every value that was compared is in it."""
        return {
            "file": self.file,
            "outcome": self.outcome.value,
            "claim": self.claim,
            "is_signer_known": self.is_signer_known,
            "made_with": dict(self.made_with),
            "checked_with": dict(self.checked_with),
            "tolerance": 0.0 if self.is_exact else TOLERANCE,
            "largest_difference": _finite(self.largest_difference),
            "checks": [
                {"name": check.name, "file": check.file, "outcome": check.status.value, "said": check.words}
                for check in self.checks
            ],
            "values": [
                {
                    "file": value.file,
                    "place": value.place,
                    "stated": value.stated,
                    "recomputed": value.recomputed,
                    "outcome": value.status.value,
                }
                for value in self.values
            ],
        }


def _finite(value: float) -> float | None:
    return float(f"{value:.6g}") if math.isfinite(value) else None


def verified(path: Path, key: Ed25519PublicKey | None = None) -> Verification:
    """Check a bundle; without the maker's key it is not known who signed it, and everything else is checked."""
    try:
        files = read_zip(path)
    except FileError as wrong:
        said = [Check(name="archive", file="", status=Status.FAILS, words=str(fault)) for fault in wrong.faults]
        return _verification(path.name, said, (), {}, Outcome.REFUSED)
    size = sum(map(len, files.values()))
    opened = Check(
        name="archive",
        file="",
        status=Status.HOLDS,
        words=f"{len(files)} files, {size / 1e6:.1f} MB, nothing unsafe in them",
    )
    signature = signature_of(files, key)
    status = Status.FAILS if signature.is_broken else Status.HOLDS if SIGNATURE in files else Status.ABSENT
    sealed = Check(name="signature", file=SIGNATURE, status=status, words=signature.words)
    made, values = _recomputed_checks(files)
    checks = [opened, *manifest_checks(files), sealed, *made]
    return _verification(path.name, checks, values, files, None, is_signer_known=signature.is_known)


def _verification(
    name: str,
    checks: Sequence[Check],
    values: tuple[Agreement, ...],
    files: Mapping[str, bytes],
    outcome: Outcome | None,
    *,
    is_signer_known: bool = False,
) -> Verification:
    claim = json_of(files.get(CLAIM, b""))
    return Verification(
        file=name,
        outcome=outcome or outcome_of(checks),
        claim=str(claim.get("sentence", "")) if isinstance(claim, dict) else "",
        checks=tuple(checks),
        values=values,
        made_with=_made_with(files),
        checked_with=versions(),
        is_signer_known=is_signer_known,
    )


def outcome_of(checks: Sequence[Check]) -> Outcome:
    """What came of all checks together: one that does not hold decides, then one that could not be made."""
    found = {check.status for check in checks}
    return Outcome.FAILS if Status.FAILS in found else Outcome.OPEN if Status.OPEN in found else Outcome.HOLDS


def manifest_checks(files: Mapping[str, bytes]) -> list[Check]:
    """Whether every file is the one that the manifest lists, and no other is there."""
    faults = seal_faults(files)
    if not faults:
        words = f"all {len(files) - len({MANIFEST, SIGNATURE} & set(files))} files have the digests that it lists"
        return [Check(name="manifest", file=MANIFEST, status=Status.HOLDS, words=words)]
    return [Check(name="file", file=fault.name, status=Status.FAILS, words=fault.problem) for fault in faults]


def _made_with(files: Mapping[str, bytes]) -> dict[str, str]:
    said = json_of(files.get(VERSIONS, b""))
    return {str(key): str(value) for key, value in said.items()} if isinstance(said, dict) else {}


def _recomputed_checks(files: Mapping[str, bytes]) -> tuple[list[Check], tuple[Agreement, ...]]:
    """Compute everything again in a folder of its own, and compare it with what the bundle states."""
    request = json_of(files.get(REQUEST, b""))
    if not isinstance(request, dict) or request.get("format") != FORMAT or not set(request) >= set(ASKED):
        words = f"is not a request of the form that this version reads, {FORMAT}"
        return [Check(name="recompute", file=REQUEST, status=Status.FAILS, words=words)], ()
    with tempfile.TemporaryDirectory(prefix="boostwright-") as place:
        folder = Path(place) / INPUTS
        try:
            _unpack(files, folder)
            contents = bundle_contents(*requested(files, cast("dict[str, Any]", request), folder))
        except BoostwrightError as wrong:
            return [_not_recomputed(str(wrong).replace(f"{folder}", INPUTS))], ()
    return compared(files, contents)


def _unpack(files: Mapping[str, bytes], folder: Path) -> None:
    """Write the inputs, whose names were judged when the archive was opened."""
    folder.mkdir()
    for name, data in files.items():
        if name.startswith(f"{INPUTS}/"):
            path = folder.joinpath(*PurePosixPath(name).parts[1:])
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)


def _not_recomputed(reason: str) -> Check:
    if _NOT_INSTALLED in reason:
        return Check(name="recompute", file=INPUTS, status=Status.OPEN, words=reason)
    words = f"nothing can be computed from these inputs: {reason}"
    return Check(name="recompute", file=INPUTS, status=Status.FAILS, words=words)


def compared(files: Mapping[str, bytes], contents: Contents) -> tuple[list[Check], tuple[Agreement, ...]]:
    """Compare what a bundle states with what was computed again from its inputs, file by file and value by value."""
    made_with, own = _made_with(files), versions()
    is_exact = made_with == own
    made = dict(contents.files)
    signer = {SIGNER: files[SIGNER]} if SIGNER in files else {}
    if is_exact:
        made |= signer
        made[MANIFEST] = manifest(made, contents.recomputed_by)
    aside = {SIGNATURE, VERSIONS, *signer} | (set() if is_exact else {MANIFEST, DESCRIPTOR})
    checks: list[Check] = []
    values: list[Agreement] = []
    for name in sorted({*files, *made} - aside):
        if name not in made or name not in files:
            words = "follows from none of the inputs" if name in files else "follows from the inputs, and is missing"
            checks.append(Check(name="recompute", file=name, status=Status.FAILS, words=words))
        elif not name.startswith(f"{INPUTS}/"):  # inputs have the manifest's digests to hold
            found = _values(name, files[name], made[name], made_with, own) if name.endswith(_COMPARED) else ()
            checks.append(_file_check(name, files[name], made[name], found, is_exact=is_exact))
            values += found or ()
    described = [] if is_exact else [_description(files)]
    return [*_claim_checks(values), *described, *checks], tuple(values)


def _claim_checks(values: Sequence[Agreement]) -> list[Check]:
    """The claim and its verdict by themselves, for they are what is quoted."""
    names = {"sentence": "claim", "verdict": "verdict", "grade": "grade"}
    return [
        Check(name=names[value.place], file=CLAIM, status=value.status, words=_told(value))
        for value in values
        if value.file == CLAIM and value.place in names
    ]


def _description(files: Mapping[str, bytes]) -> Check:
    """Whether the descriptor, written by another version, gives every file that is there its digest."""
    said = json_of(files.get(DESCRIPTOR, b""))
    resources = said.get("resources") if isinstance(said, dict) else None
    rows = resources if isinstance(resources, list) else []
    stated = {str(row.get("path")): row.get("hash") for row in rows if isinstance(row, dict)}
    unlisted = (MANIFEST, SIGNATURE, SIGNER, DESCRIPTOR)
    wrong = [
        n for n, data in files.items() if n not in unlisted and stated.get(n) != f"sha256:{sha256(data).hexdigest()}"
    ]
    if wrong:
        words = f"does not give the digest of {min(wrong)}"
        return Check(name="recompute", file=DESCRIPTOR, status=Status.FAILS, words=words)
    return Check(name="recompute", file=DESCRIPTOR, status=Status.HOLDS, words="gives every file its digest")


def _told(value: Agreement) -> str:
    if value.status is Status.HOLDS:
        return str(value.stated)
    start = 0
    if isinstance(value.stated, str) and isinstance(value.recomputed, str):
        pairs = zip(f"{value.stated}\0", f"{value.recomputed}\1", strict=False)
        start = max(0, next((place for place, (one, other) in enumerate(pairs) if one != other), 0) - _BEFORE)
    stated, made = (_quoted(said, start) for said in (value.stated, value.recomputed))
    return f"is stated as {stated} and computed as {made}"


def _values(
    name: str, stated: bytes, made: bytes, made_with: Mapping[str, str], own: Mapping[str, str]
) -> tuple[Agreement, ...] | None:
    """Compare the values of one file; another version's name in its words is no difference."""
    theirs, ours = (f"boostwright {said.get('boostwright')}".encode() for said in (made_with, own))
    plain = stated.replace(theirs, ours) if _VERSION.fullmatch(made_with.get("boostwright", "")) else stated
    found = agreements(name, plain, made, is_exact=made_with == own)
    if found is None or theirs == ours:
        return found
    return tuple(value for value in found if value.place not in _FOLLOWS_VERSION)


def _file_check(
    name: str, stated: bytes, made: bytes, values: tuple[Agreement, ...] | None, *, is_exact: bool
) -> Check:
    """What came of one file: its first value that does not hold, or that its bytes are or are not the same."""
    if values is None:
        return Check(name="recompute", file=name, status=Status.FAILS, words="cannot be read as what its name says")
    for status in (Status.FAILS, Status.OPEN):
        wrong = [value for value in values if value.status is status]
        if wrong:
            return Check(name="recompute", file=name, status=status, words=_first(wrong, len(values)))
    if stated == made:
        words = f"{len(values)} values, the same to the last digit" if values else "the same, byte for byte"
        return Check(name="recompute", file=name, status=Status.HOLDS, words=words)
    if is_exact:
        words = (
            "is not what these inputs give" if not values else "says the same values, and is not written as we write it"
        )
        return Check(name="recompute", file=name, status=Status.FAILS, words=words)
    if values:
        largest = max((value.difference or 0.0 for value in values), default=0.0)
        words = f"{len(values)} values within the tolerance; the largest difference is {100.0 * largest:.2g} %"
        return Check(name="recompute", file=name, status=Status.HOLDS, words=words)
    words = "made with other versions, which set pages and draw with other bytes; its words are in report/report.json"
    return Check(name="recompute", file=name, status=Status.OPEN, words=words)


def _first(wrong: Sequence[Agreement], count: int) -> str:
    number = "1 value differs" if len(wrong) == 1 else f"{len(wrong)} of {count} values differ"
    return f"{number}: {wrong[0].place} {_told(wrong[0])}"


def _quoted(value: Leaf, start: int) -> str:
    """A value as JSON writes it; of a long text the part that is worth reading."""
    if not isinstance(value, str):
        return json.dumps(value)
    end = start + _BEFORE + _BEHIND
    return f'"{"…" if start else ""}{value[start:end]}{"…" if end < len(value) else ""}"'
