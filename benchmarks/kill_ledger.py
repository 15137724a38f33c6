"""Kill writers of one ledger at random moments and see that nothing committed is lost.

    python benchmarks/kill_ledger.py --kills 1000
    python benchmarks/kill_ledger.py --kills 100 --between-s 1.5 --ledger postgresql://user@host/database

Four processes write; each in turn is killed with SIGKILL and replaced. At the end every row whose number a writer
told must be there, and the ledger sound.
"""

from __future__ import annotations

import argparse
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from printcheck.ledger.store import open_ledger

_WRITER = Path(__file__).parents[1] / "tests" / "ledger" / "writer.py"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--writers", type=int, default=4)
    parser.add_argument("--ledger", default="")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--between-s", type=float, default=0.25, help="longest time between kills")
    asked = parser.parse_args()
    rng = random.Random(asked.seed)
    with tempfile.TemporaryDirectory() as folder:
        place = asked.ledger or str(Path(folder) / "ledger.sqlite3")
        open_ledger(place).close()
        told = Path(folder) / "told"
        begun = time.perf_counter()
        with told.open("ab") as out:

            def start(number: int) -> subprocess.Popen[bytes]:
                # all append to one file: short writes do not mix
                command = [sys.executable, str(_WRITER), place, f"{asked.seed}-{number}", "1000000"]
                return subprocess.Popen(command, stdout=out)

            writers = [start(k) for k in range(asked.writers)]
            killed = 0
            for kill in range(asked.kills):
                time.sleep(rng.uniform(0.02, asked.between_s))
                at = kill % asked.writers
                writers[at].send_signal(signal.SIGKILL)
                killed += writers[at].wait() == -signal.SIGKILL
                writers[at] = start(asked.writers + kill)
            for writer in writers:
                writer.send_signal(signal.SIGKILL)
                writer.wait()
        lines = [line.split() for line in told.read_text().splitlines()]
        acknowledged = {parts[1] for parts in lines if len(parts) == 2 and len(parts[1]) == 64}
        with open_ledger(place) as book:
            rows = {row.image_sha256 for row in book.rows()}
            faults = book.faults()
        print(
            f"{killed} kills in {time.perf_counter() - begun:.0f} s, {len(acknowledged)} rows told, "
            f"{len(rows)} there, {len(acknowledged - rows)} lost, faults: {faults or 'none'}"
        )
    sys.exit(bool(acknowledged - rows or faults or not acknowledged))  # nothing told is nothing shown


if __name__ == "__main__":
    main()
