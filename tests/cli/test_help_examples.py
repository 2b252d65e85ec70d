"""Every command's help has an example, and every example runs as it is printed."""

import socket
import subprocess
import sys
import time
import urllib.request

import pytest

from docs.help_examples import ROOT, commands, copy_of_the_root, help_examples, ran
from docs.make_reference import JSON_PAGE, key_paths, page_keys

EXAMPLES = help_examples()
ENDING = [example for example in EXAMPLES if example.command != "serve"]


def test_every_command_has_an_example():
    told = {example.command for example in EXAMPLES}
    assert [name for name, _ in commands() if name not in told] == []


@pytest.mark.parametrize("example", ENDING, ids=lambda example: example.line.removeprefix("boostwright "))
def test_an_example_runs_as_printed(example, tmp_path):
    """Its exit status is 0, it says something, and its JSON has the keys that the reference lists for it."""
    target = tmp_path / "out.json"
    with copy_of_the_root(tmp_path):
        done = ran(example, str(target))

    assert done.exit_code == 0, done.output
    assert done.stdout.strip()
    if target.exists():
        listed = page_keys(JSON_PAGE.read_text(encoding="utf-8"))
        assert sorted(key_paths(target.read_bytes()) ^ listed[example.line]) == []


def test_serve_as_printed_answers_until_it_is_ended(tmp_path):
    """The port is the one thing added, because another may be served on this computer."""
    [example] = [example for example in EXAMPLES if example.command == "serve"]
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with copy_of_the_root(tmp_path):
        command = [sys.executable, "-m", "boostwright", *example.arguments, "--port", str(port)]
        server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    try:
        said = server.stdout.readline() + server.stdout.readline()
        assert f"http://127.0.0.1:{port}/" in said
        assert b"<html" in _page(f"http://127.0.0.1:{port}/")
    finally:
        server.terminate()
        server.communicate(timeout=90)  # it waits for its processes, which may still be warming up


def _page(address: str, patience: float = 30.0) -> bytes:
    deadline = time.monotonic() + patience
    while True:
        try:
            with urllib.request.urlopen(address, timeout=5) as answer:
                return answer.read()
        except OSError:
            if time.monotonic() > deadline:
                raise
            time.sleep(0.1)  # it has told its address and is not listening yet


def test_examples_name_only_what_the_repository_holds():
    for example in EXAMPLES:
        for word in example.line.split():
            if word.startswith("examples/"):
                assert list(ROOT.glob(word)), example.line
