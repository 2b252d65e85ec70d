"""Kills a writer of an archive at random moments and counts what was lost, what was seen half done, what needed repair.

python -m benchmarks.archive_kills --kills 200
"""

import argparse
import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from boostwright.records.archive import Search, created, found_pulls
from boostwright.records.archive_upkeep import check_archive

WRITER = """
import sys
from pathlib import Path
import numpy as np
from benchmarks.archive_speed import NOW, description
from boostwright.records.archive import add_pulls, created
archive, own = created(Path(sys.argv[1])), int(sys.argv[2])
def pulls():
    generator = np.random.default_rng(own)
    for n in range(10**6):
        torque = 450 + generator.normal(0.0, 1.0, 200)
        yield description(f"{own}-{n}", n), {"engine_speed": np.linspace(50.0, 96.0, 200), "torque": torque}
print("ready", flush=True)
for addition in add_pulls(archive, pulls(), NOW):
    print(addition.pull.digest, flush=True)
"""


def main() -> None:
    """Kill, look, count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    kills = parser.parse_args().kills
    chance = np.random.default_rng(20260320)
    with tempfile.TemporaryDirectory() as folder:
        archive = created(Path(folder) / "archive")
        acknowledged: set[str] = set()
        for kill in range(kills):
            process = subprocess.Popen(
                [sys.executable, "-c", WRITER, str(archive.folder), str(kill)],
                stdout=subprocess.PIPE,
                text=True,
                env=os.environ | {"POLARS_MAX_THREADS": "1"},
            )
            assert process.stdout is not None
            process.stdout.readline()
            time.sleep(float(chance.uniform(0.0, 0.15)))
            process.send_signal(signal.SIGKILL)
            acknowledged |= {line.strip() for line in process.communicate()[0].splitlines(True) if line[-1] == "\n"}
        named = {pull.digest for pull in found_pulls(archive, Search(with_superseded=True))}
        faults = sum(1 for _ in check_archive(archive))
        leftovers = len(list((archive.folder / "pulls").glob("*/.*.part")))
    print(f"{kills} kills: {len(acknowledged)} pulls acknowledged, {len(acknowledged - named)} of them lost;")
    print(f"{len(named)} named in the index, {faults} of them not whole; {leftovers} unfinished files left behind.")
    sys.exit(bool(acknowledged - named or faults))


if __name__ == "__main__":
    main()
