"""Settings for every test: one thread in linear algebra, and time for the compile that an example may wait for."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before anything imports numpy

from hypothesis import settings

settings.register_profile("boostwright", deadline=None, derandomize=True)
settings.load_profile("boostwright")
