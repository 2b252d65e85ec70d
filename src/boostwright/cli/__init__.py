"""The command line: one file a command, thin; everything a command does, three lines of Python can do."""

import os


def main() -> None:
    """Run the command line; wrong input ends with its message and status 2."""
    # Our matrices are small: more threads in the linear algebra cost three times the time and change the last digit.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from boostwright.cli.app import run
    from boostwright.cli.spelling import spell_what_is_lacking

    spell_what_is_lacking()
    run()
