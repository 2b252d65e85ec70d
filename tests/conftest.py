"""Settings for every test: one thread in linear algebra, and time for the compile that an example may wait for."""

import os
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before anything imports numpy

from hypothesis import settings

from docs.make_validation import Recorder

settings.register_profile("boostwright", deadline=None, derandomize=True)
settings.load_profile("boostwright")


def pytest_addoption(parser):
    parser.addoption("--write-validation", metavar="FILE", help="write the page of outside checks from this run")


def pytest_configure(config):
    target = config.getoption("--write-validation")
    if target and not hasattr(config, "workerinput"):  # the process that hears of every case
        config.pluginmanager.register(Recorder(Path(target)))
