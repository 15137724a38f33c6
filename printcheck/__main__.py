"""``python -m printcheck`` and the ``printcheck`` command."""

from __future__ import annotations


def main() -> None:
    """Run the command line."""
    import signal
    import sys

    try:
        from printcheck.cli.app import run

        run()
    except KeyboardInterrupt:  # while the program was still loading; the command line handles the rest
        sys.exit(130)
    finally:
        # all is done and the exit code settled: an interrupt while Python winds up would replace it by a death by
        # signal, since finalisation puts the default handler back (but leaves an ignored signal ignored)
        signal.signal(signal.SIGINT, signal.SIG_IGN)


if __name__ == "__main__":
    main()
