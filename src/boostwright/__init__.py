"""Prove with logged pulls what a change to a supercharged engine did, and match blowers to engines."""

__version__ = "0.1.0"
