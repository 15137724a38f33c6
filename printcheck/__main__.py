"""``python -m printcheck`` and the ``printcheck`` command."""

from __future__ import annotations


def main() -> None:
    """Run the command line."""
    import sys

    try:
        from printcheck.cli.app import run

        run()
    except KeyboardInterrupt:  # while the program was still loading; the command line handles the rest
        sys.exit(130)


if __name__ == "__main__":
    main()
