"""``python -m printcheck`` and the ``printcheck`` command."""

from __future__ import annotations


def main() -> None:
    """Run the command line."""
    from printcheck.cli.app import run

    run()


if __name__ == "__main__":
    main()
