"""``--help`` answers at once: nothing that reads or draws pictures is loaded for it."""

from __future__ import annotations

import subprocess
import sys

import pytest

SLOW = {
    "numpy", "cv2", "skimage", "scipy", "PIL", "reportlab", "pypdfium2", "zxingcpp", "segno", "pillow_heif",
    "sqlite3",
}  # fmt: skip


def loaded_by(*words: str) -> tuple[set[str], str]:
    """Top-level modules in ``sys.modules`` after the command line ran with `words`, and what it printed."""
    program = (
        "import sys\n"
        f"sys.argv = ['printcheck', *{list(words)!r}]\n"
        "from printcheck.__main__ import main\n"
        "try:\n    main()\nexcept SystemExit as end:\n    code = end.code\n"
        "print('@@', code, *sorted({name.split('.')[0] for name in sys.modules}))\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    text, _, tail = done.stdout.rpartition("@@")
    code, *names = tail.split()
    assert code in ("0", "None")
    return set(names), text


@pytest.mark.parametrize("words", [("--help",), ("--version",), ("score", "--help"), ("compare", "--help")])
def test_no_image_library_is_loaded_for(words: tuple[str, ...]) -> None:
    names, text = loaded_by(*words)
    assert "printcheck" in names
    assert text
    assert names & SLOW == set()


def test_the_list_is_not_out_of_date() -> None:
    """The same look after a command that draws a sheet does find them: the check can fail."""
    program = "import sys, printcheck.pipeline; print(*sorted({n.split('.')[0] for n in sys.modules}))"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert {"numpy", "cv2"} <= set(done.stdout.split())
