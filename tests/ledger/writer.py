"""Writes rows until it is killed; tells the number of each on standard output once its command is done.

python writer.py PLACE NAME COUNT
"""

from __future__ import annotations

import hashlib
import os
import sys

from printcheck.ledger.entry import Entry, Notes
from printcheck.ledger.store import open_ledger


def main(place: str, name: str, count: int) -> None:
    with open_ledger(place) as book:
        for number in range(count):
            digest = hashlib.sha256(f"{name}/{number}".encode()).hexdigest()
            report = {"image": {"sha256": digest}, "verdict": {"action": "purge"}, "pad": "x" * 4000}
            row, _ = book.add(
                Entry(
                    image_sha256=digest,
                    layout="h/A4/1",
                    settings="s",
                    scored_at=f"2026-11-02T08:{number % 60:02d}:00.000+00:00",
                    image_path=f"{name}.png",
                    ticket=name,
                    head="h",
                    page="A4",
                    action="purge",
                    rows_missing=1,
                    findings=[],
                    notes=Notes(operator=name),
                    report=report,
                )
            )
            os.write(1, f"{row} {digest}\n".encode())  # one short write: told whole or not at all


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
