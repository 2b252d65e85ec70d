"""A bundle made from the example's pulls: the same bytes each time, described to strangers, checked by its parts."""

import json
import subprocess
import sys
import zipfile
from dataclasses import replace
from hashlib import sha256

import frictionless
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from typer.testing import CliRunner

from boostwright.cli.app import app
from boostwright.errors import FileError
from boostwright.publish.agreement import Status
from boostwright.publish.bundle import Contents, bundle_contents, requested
from boostwright.publish.bundle_seal import json_of, manifest, sealed, signature_of, write_bundle
from boostwright.publish.published import ReportRequest
from boostwright.publish.verify import Outcome, compared, manifest_checks, outcome_of, verified
from boostwright.publish.versions import versions
from boostwright.records.campaign import read_campaign
from boostwright.records.examples import copy_example, example_folder
from boostwright.records.zip_file import zip_bytes

PLAIN = ReportRequest(with_model=False)
KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
OTHER = Ed25519PrivateKey.from_private_bytes(bytes(range(1, 33)))


@pytest.fixture(scope="module")
def contents() -> Contents:
    return bundle_contents(read_campaign(example_folder("inlet-elbow")), PLAIN, "a4")


@pytest.fixture(scope="module")
def files(contents) -> dict[str, bytes]:
    return sealed(contents, KEY)


def changed(files: dict[str, bytes], name: str, before: str, after: str) -> dict[str, bytes]:
    """The files with the first such digit of one of them changed."""
    assert before.encode() in files[name]
    return {**files, name: files[name].replace(before.encode(), after.encode(), 1)}


def resealed(files: dict[str, bytes], contents: Contents) -> dict[str, bytes]:
    """The files as somebody would leave them who changed one and knows how descriptor and manifest are written."""
    bare = {name: data for name, data in files.items() if name not in ("manifest.json", "manifest.sig")}
    for name, data in contents.files.items():
        before, after = (sha256(said).hexdigest().encode() for said in (data, bare[name]))
        bare["datapackage.json"] = bare["datapackage.json"].replace(before, after)
    return {**bare, "manifest.json": manifest(bare, contents.recomputed_by)}


def failing(checks) -> list[str]:
    return [f"{check.file}: {check.words}" for check in checks if check.status is Status.FAILS]


def test_another_process_makes_the_same_bytes_and_they_verify(contents, tmp_path):
    here, there = tmp_path / "here.zip", tmp_path / "there.zip"
    write_bundle(here, contents, None)
    command = [
        "publish",
        str(example_folder("inlet-elbow")),
        "--no-model",
        "--out",
        str(tmp_path),
        "--bundle",
        str(there),
    ]
    subprocess.run([sys.executable, "-m", "boostwright", *command], check=True, capture_output=True)
    assert here.read_bytes() == there.read_bytes()
    result = CliRunner().invoke(app, ["verify", str(there), "--json", "-"])
    found = json.loads(result.stdout)
    assert result.exit_code == 0
    assert found["outcome"] == "holds"
    assert found["claim"].startswith("With machined this engine gave at least ")
    assert {check["outcome"] for check in found["checks"]} == {"holds", "none"}
    assert {value["outcome"] for value in found["values"]} == {"holds"}
    assert {"sentence", "verdict", "lower_percent"} <= {
        value["place"] for value in found["values"] if value["file"] == "results/claim.json"
    }
    assert sum(isinstance(value["stated"], float) for value in found["values"]) > 1000
    assert found["largest_difference"] == 0.0


def test_a_changed_input_is_named_with_the_numbers_that_do_not_follow_from_it(files, tmp_path):
    path = tmp_path / "claim.zip"
    cheated = changed(files, "inputs/pulls/01-cast.csv", ";464,73;", ";464,93;")  # 0.2 N*m, in one sample
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:  # another packer, another order, today's date
        for name in reversed(list(cheated)):
            archive.writestr(name, cheated[name])
    result = CliRunner().invoke(app, ["verify", str(path), "--json", str(tmp_path / "found.json")])
    assert result.exit_code == 2
    assert result.stdout.startswith("claim.zip does not hold\n")
    found = json.loads((tmp_path / "found.json").read_text())
    assert found["outcome"] == "does not hold"
    wrong = {check["file"]: check for check in found["checks"] if check["outcome"] == "does not hold"}
    assert wrong["inputs/pulls/01-cast.csv"]["said"] == "is not the file that the manifest lists: its digest differs"
    assert "manifest.sig" not in wrong
    differing = {value["place"] for value in found["values"] if value["file"] == "results/claim.json"} & {
        value["place"] for value in found["values"] if value["outcome"] == "does not hold"
    }
    assert {"gain", "lower", "upper"} <= differing


def test_the_bundle_as_made_holds_without_being_computed_again(contents, files):
    assert failing([*manifest_checks(files), *compared(files, contents)[0]]) == []


@pytest.mark.parametrize(
    ("name", "before", "after"),
    [
        ("inputs/pulls/01-cast.csv", "1", "2"),
        ("results/claim.json", "0.95", "0.96"),
        ("results/compare-power.json", "0.95", "0.96"),
        ("results/pulls-power.csv", "1", "2"),
        ("report/report.html", "3", "4"),
        ("report/report.pdf", "1", "2"),
        ("report/report.json", "3", "4"),
        ("datapackage.json", "1", "2"),
        ("versions.json", "1", "2"),
        ("request.json", "1", "2"),
        ("README.txt", "2", "3"),
        ("signer.public.pem", "A", "B"),
    ],
)
def test_one_changed_digit_breaks_the_seal_and_is_named(files, name, before, after):
    assert failing(manifest_checks(changed(files, name, before, after))) == [
        f"{name}: is not the file that the manifest lists: its digest differs"
    ]


@pytest.mark.parametrize(
    ("name", "before", "after", "said"),
    [
        (
            "results/claim.json",
            '"lower_percent": 1.',
            '"lower_percent": 2.',
            "1 value differs: lower_percent is stated as",
        ),
        ("results/claim.json", "at least 1", "at least 2", "1 value differs: sentence is stated as"),
        ("results/claim.json", '"gain and loss shown"', '"gain shown"', 'is stated as "gain shown" and computed as'),
        ("results/compare-power.json", '"publishable"', '"indicative"', "1 value differs: grade is stated as"),
        ("results/curve-power.csv", "3", "4", "1 value differs: "),
        ("report/report.html", "at least 1", "at least 2", "is not what these inputs give"),
        ("report/report.pdf", "1", "2", "is not what these inputs give"),
        ("report/report.json", "at least 1", "at least 2", "1 value differs: opening.sentence is stated as"),
        ("results/compare-boost.json", '"warnings": []', '"warnings":  []', "and is not written as we write it"),
        ("README.txt", "at least 1", "at least 2", "1 value differs: line[2] is stated as"),
    ],
)
def test_a_digit_that_was_changed_and_sealed_again_is_found_by_computing(contents, files, name, before, after, said):
    forged = resealed(changed(files, name, before, after), contents)
    assert failing(manifest_checks(forged)) == []
    found = failing(compared(forged, contents)[0])
    assert any(line.startswith(f"{name}: ") and said in line for line in found), found
    # the descriptor and the manifest give the digest of what was changed, and so disagree as well
    assert {line.split(":")[0] for line in found} <= {name, "datapackage.json", "manifest.json"}


def test_a_file_that_is_added_or_taken_away_is_named(contents, files):
    more = {**files, "inputs/pulls/08.csv": b"1", "results/more.json": b"{}"}
    assert "results/more.json: is not listed in the manifest" in failing(manifest_checks(more))
    assert "inputs/pulls/08.csv: follows from none of the inputs" in failing(compared(more, contents)[0])
    less = {name: data for name, data in files.items() if name != "report/report.pdf"}
    assert failing(manifest_checks(less)) == ["report/report.pdf: is listed and missing"]
    assert "report/report.pdf: follows from the inputs, and is missing" in failing(compared(less, contents)[0])


@pytest.mark.parametrize("text", [b"", b"[]", b"{", b'{"format": "boostwright bundle 1"}', b"[" * 100_000, b"\xff"])
def test_a_manifest_that_is_none_is_said_to_be_none(files, text):
    said = failing(manifest_checks({**files, "manifest.json": text}))
    assert said == ["manifest.json: is not a manifest that this version reads"]
    assert failing(manifest_checks({"a": b""})) == ["manifest.json: is missing"]


def test_a_repeated_key_is_no_json():
    assert json_of(b'{"a": 1, "b": 2}') == {"a": 1, "b": 2}
    assert json_of(b'{"a": 1, "a": 2}') is None
    assert json_of(b'{"a": NaN}') is None


def test_a_signature_holds_for_its_key_and_for_nothing_else(contents, files):
    good = signature_of(files, KEY.public_key())
    assert (good.is_broken, good.is_known) == (False, True)
    unasked = signature_of(files, None)
    assert (unasked.is_broken, unasked.is_known) == (False, False)
    assert "which came within the bundle" in unasked.words
    bad = bytearray(files["manifest.sig"])
    bad[0] ^= 1
    for wrong, key, said in (
        ({**files, "manifest.sig": bytes(bad)}, KEY, "the manifest or the signature was changed"),
        (changed(files, "manifest.json", "1", "2"), KEY, "the manifest or the signature was changed"),
        (files, OTHER, "is not of this key: it is said to be of "),
        (sealed(contents, None), KEY, "this bundle is not signed, and a key was given"),
        ({name: data for name, data in files.items() if name != "manifest.sig"}, None, "the key of a signer"),
        ({**files, "signer.public.pem": b""}, None, "holds no public key"),
        ({**files, "manifest.sig": b""}, KEY, "the manifest or the signature was changed"),
    ):
        found = signature_of(wrong, None if key is None else key.public_key())
        assert found.is_broken
        assert said in found.words
    assert signature_of(sealed(contents, None), None).words == "not signed: nothing says who made it"


def test_the_private_key_never_enters_the_bundle(files):
    secret = KEY.private_bytes_raw()
    assert not any(secret in data or b"PRIVATE" in data for data in files.values())


def test_the_descriptor_is_a_data_package_to_its_own_library(files, tmp_path):
    for name, data in files.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    package = frictionless.Package(str(tmp_path / "datapackage.json"))
    report = package.validate()
    assert report.flatten(["name", "type", "message"]) == []
    assert {resource.path for resource in package.resources} == set(files) - {
        "datapackage.json",
        "manifest.json",
        "manifest.sig",
        "signer.public.pem",
    }
    curve = package.get_resource("results-curve-power.csv")
    assert [field.custom["unit"] for field in curve.schema.fields][:2] == ["1/min", "kW"]
    assert len(curve.read_rows()) > 20
    log = package.get_resource("inputs-pulls-01-cast.csv").custom
    assert log["columns"][2] == {"header": "Torque [N*m]", "quantity": "torque", "unit": "N*m"}
    (tmp_path / "results/curve-power.csv").write_bytes(files["results/curve-power.csv"].replace(b"3", b"4", 1))
    assert not package.validate().valid


def test_the_command_of_a_result_makes_its_bytes(files, tmp_path):
    listed = json.loads(files["manifest.json"])["files"]
    command = listed["results/compare-boost.json"]["recomputed_by"]
    assert command == "boostwright compare . --quantity boost --no-files --json -"
    folder = str(copy_example("inlet-elbow", tmp_path / "inputs"))
    result = CliRunner().invoke(app, ["compare", folder, *command.split()[3:]])
    assert result.stdout.encode() == files["results/compare-boost.json"]
    assert listed["report/report.pdf"]["recomputed_by"] == "boostwright publish . --units metric --no-model"
    assert listed["inputs/campaign.toml"]["recomputed_by"] is None


def by_others(files: dict[str, bytes], contents: Contents, **said: str) -> dict[str, bytes]:
    """The files as if another version had made them."""
    made = json.dumps({**versions(), **said}).encode()
    return resealed({**files, "versions.json": made}, contents)


def test_other_versions_are_held_to_a_stated_tolerance(contents, files):
    shifted = json.loads(files["results/compare-power.json"])
    shifted["range"]["gain"] *= 1.0009
    within = by_others({**files, "results/compare-power.json": json.dumps(shifted).encode()}, contents, numpy="1.0")
    checks, values = compared(within, contents)
    said = {check.file: check for check in checks}
    assert said["results/compare-power.json"].status is Status.HOLDS
    assert "the largest difference is 0.09 %" in said["results/compare-power.json"].words
    assert max(value.difference or 0.0 for value in values) == pytest.approx(0.0009, rel=1e-6)
    shifted["range"]["gain"] *= 1.0009
    beyond = by_others({**files, "results/compare-power.json": json.dumps(shifted).encode()}, contents, numpy="1.0")
    assert any(
        line.startswith("results/compare-power.json: 1 value differs: range.gain")
        for line in failing(compared(beyond, contents)[0])
    )


def test_pages_that_other_versions_set_otherwise_are_said_to_be_unchecked(contents, files):
    other = by_others(changed(files, "report/report.pdf", "1", "2"), contents, matplotlib="1.0")
    checks, _ = compared(other, contents)
    assert outcome_of(checks) is Outcome.OPEN
    assert [check.file for check in checks if check.status is Status.OPEN] == ["report/report.pdf"]
    assert any("made with other versions" in check.words for check in checks)


def test_a_sentence_of_another_version_may_differ_in_words_and_not_in_numbers(contents, files):
    old = by_others(files, contents, boostwright="0.0.9")
    for after, status in (("gave by at least", Status.OPEN), ("gave at least 9", Status.FAILS)):
        checks, _ = compared(changed(old, "results/claim.json", "gave at least", after), contents)
        assert next(check for check in checks if check.name == "claim").status is status


def test_what_is_no_version_does_not_pass_for_one_in_the_words_of_a_report(contents, files):
    said = "0.1.0 and certified"
    forged = changed(files, "report/report.json", "boostwright 0.1.0", f"boostwright {said}")
    checks, _ = compared(by_others(forged, contents, boostwright=said), contents)
    told = next(check for check in checks if check.file == "report/report.json")
    assert told.status is Status.OPEN
    assert "certified" in told.words


def test_a_strange_value_is_told_and_makes_nothing_stumble(contents, files):
    claim = json.loads(files["results/claim.json"])
    for strange in (
        {"sentence": claim["sentence"] + "\1"},
        {"verdict": [[]]},
        {"grade": None},
        {"gain": True},
        {"more": {}},
    ):
        forged = {**files, "results/claim.json": json.dumps(claim | strange).encode()}
        assert any(line.startswith("results/claim.json: ") for line in failing(compared(forged, contents)[0]))
    for strange in (b"{}", b'{"resources": 1}', b'{"resources": [1, {"path": [], "hash": {}}]}'):
        other = by_others({**files, "datapackage.json": strange}, contents, numpy="1.0")
        assert "datapackage.json: does not give the digest of README.txt" in failing(compared(other, contents)[0])


def test_a_bundle_whose_reader_is_not_installed_is_said_to_be_unchecked(contents, files, tmp_path, monkeypatch):
    words = 'is MDF, and its reader asammdf is not installed; install it: pip install "boostwright[mdf]"'

    def lacks_reader(*_):
        raise FileError([]) from None

    monkeypatch.setattr(FileError, "__str__", lambda _: words)
    monkeypatch.setattr("boostwright.publish.verify.bundle_contents", lacks_reader)
    path = tmp_path / "claim.zip"
    path.write_bytes(zip_bytes(files))
    found = verified(path)
    assert found.outcome is Outcome.OPEN
    assert words in found.checks[-1].words


def test_an_unsafe_archive_is_refused_and_nothing_of_it_is_unpacked(tmp_path):
    path = tmp_path / "claim.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("../evil.toml", b"1")
    result = CliRunner().invoke(app, ["verify", str(path), "--json", str(tmp_path / "found.json")])
    assert result.exit_code == 2
    assert "claim.zip is refused, and was not unpacked" in result.stdout
    assert '"../evil.toml" leads out of its folder' in result.stdout.replace("\n", " ")
    found = json.loads((tmp_path / "found.json").read_text())
    assert found["outcome"] == "refused"
    assert not (tmp_path.parent / "evil.toml").exists()


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("request.json", b"{}", "is not a request of the form that this version reads"),
        ("request.json", None, "is not a request of the form that this version reads"),
        (
            "inputs/campaign.toml",
            b"title = 1",
            "nothing can be computed from these inputs: inputs/campaign.toml, key title",
        ),
        ("inputs/campaign.toml", None, "nothing can be computed from these inputs: inputs/campaign.toml: is not there"),
    ],
)
def test_a_bundle_that_cannot_be_computed_says_why(files, tmp_path, name, text, said):
    broken = {**files, name: text} if text is not None else {key: data for key, data in files.items() if key != name}
    path = tmp_path / "claim.zip"
    path.write_bytes(zip_bytes(broken))
    assert any(said in line for line in failing(verified(path).checks))


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("carry_to", ["../../etc/passwd"]),
        ("carry_to", 3),
        ("units", "furlongs"),
        ("claim", "best ever"),
        ("language", "../xx"),
        ("quantity", "speed of light"),
    ],
)
def test_a_request_that_cannot_be_asked_is_named(files, tmp_path, key, value):
    request = json.loads(files["request.json"]) | {key: value}
    path = tmp_path / "claim.zip"
    path.write_bytes(zip_bytes({**files, "request.json": json.dumps(request).encode()}))
    assert any("request" in line or "nothing can be computed" in line for line in failing(verified(path).checks))


def test_a_title_that_was_the_name_of_the_folder_goes_with_the_bundle(files, tmp_path):
    folder = copy_example("inlet-elbow", tmp_path / "inputs")
    request = json.loads(files["request.json"]) | {"title": "our boat"}
    assert requested(files, request, folder)[0].title == "Machined inlet elbow against the cast one"
    said = (folder / "campaign.toml").read_text(encoding="utf-8").splitlines()
    untitled = [line for line in said if not line.startswith("title")]
    (folder / "campaign.toml").write_text("\n".join(untitled), encoding="utf-8")
    assert requested(files, request, folder)[0].title == "our boat"


def test_two_builds_of_one_name_are_refused(tmp_path):
    folder = copy_example("inlet-elbow", tmp_path / "campaign")
    for place in ("one", "two"):
        (tmp_path / place).mkdir()
        (tmp_path / place / "boat.toml").write_bytes((folder / "builds/cast.toml").read_bytes())
    request = replace(PLAIN, carry_to=tuple(tmp_path / place / "boat.toml" for place in ("one", "two")))
    with pytest.raises(FileError, match=r'two/boat\.toml: would be "boat\.toml" in the bundle, as .*one/boat\.toml is'):
        bundle_contents(read_campaign(folder), request, "a4")


def test_a_key_without_a_bundle_is_refused():
    result = CliRunner().invoke(app, ["publish", str(example_folder("inlet-elbow")), "--key", "k.pem"])
    assert "signs a bundle, and none is asked for" in str(result.exception)


def test_keys_asks_nobody_where_nobody_is(tmp_path, monkeypatch):
    monkeypatch.delenv("BOOSTWRIGHT_PASSPHRASE", raising=False)
    result = CliRunner().invoke(app, ["keys", str(tmp_path / "maker.pem")])
    assert "set BOOSTWRIGHT_PASSPHRASE, or run it in a terminal, or say --no-passphrase" in str(result.exception)
    monkeypatch.setenv("BOOSTWRIGHT_PASSPHRASE", "secret")
    result = CliRunner().invoke(app, ["keys", str(tmp_path / "maker.pem")])
    assert result.exit_code == 0
    assert "secret" not in result.stdout
    assert (tmp_path / "maker.public.pem").is_file()
