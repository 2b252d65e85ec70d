"""Settings for every test: kernels may compile inside an example, so examples have no deadline."""

from hypothesis import settings

settings.register_profile("boostwright", deadline=None, derandomize=True)
settings.load_profile("boostwright")
