"""The command line: one file a command, thin; everything a command does, three lines of Python can do."""


def main() -> None:
    """Run the command line; wrong input ends with its message and status 2."""
    from boostwright.cli.app import run

    run()
