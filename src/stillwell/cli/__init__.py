"""The commands. Nothing is imported until one is asked for, so that help comes at once."""


def main() -> None:
    """Run the command of this process's arguments, and leave with its exit code."""
    import sys

    from stillwell.cli.ending import run

    sys.exit(run(sys.argv[1:]))
