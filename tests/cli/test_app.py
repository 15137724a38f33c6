"""The program as a whole: help, version, wrong words, and being interrupted."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import printcheck

ROOT = Path(__file__).parents[2]
# a shell may start tests with SIGINT ignored, which a child inherits: take Python's own handler, as at a terminal
PROGRAM = (
    "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler); "
    "from printcheck.__main__ import main; sys.stdout.write('in'); sys.stdout.flush(); main()"
)


def test_help_and_version(run_printcheck) -> None:
    done = run_printcheck("--version")
    assert (done.returncode, done.stdout, done.stderr) == (0, f"printcheck {printcheck.__version__}\n", "")
    for word in ("--help", "-h"):
        done = run_printcheck(word)
        assert done.returncode == 0
        assert "score" in done.stdout


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("scoer", "a.jpg"),
        ("score",),
        ("score", "a.jpg", "--jsno", "-"),
        ("score", "a.jpg", "b.jpg"),
        ("score", "a.jpg", "--max-megapixels", "many"),
        ("score", "a.jpg", "--max-megapixels", "-3"),
        ("compare", "a.jpg"),
    ],
)
def test_a_wrong_command_line_is_exit_2(words: tuple[str, ...], run_printcheck, tmp_path: Path) -> None:
    done = run_printcheck(*words, cwd=tmp_path)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert done.stdout == "" or not words  # without any word the help is shown
    assert not list(tmp_path.iterdir())


def interrupted(words: list[str], after_s: float, cwd: Path) -> tuple[int, str]:
    """Exit code and standard error of a run that gets SIGINT `after_s` after `main` began, if it still runs then."""
    process = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, *words], cwd=cwd, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert process.stdout.read(2) == "in"  # before that, on a busy machine, the interpreter may still be starting
    try:
        process.wait(after_s)
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGINT)
    _, errors = process.communicate(timeout=60)
    return process.returncode, errors


@pytest.mark.skipif(os.name == "nt", reason="no SIGINT to a child there")
def test_an_interrupt_leaves_nothing_behind(tmp_path: Path, samples: Path) -> None:
    """At several moments of one score; each either got through or stopped with 130, without a word of Python."""
    codes = []
    results = ["--marked", "m.png", "--json", "r.json", "--page-report", "p.html"]
    words = ["score", str(samples / "four-ink-phone.jpg"), *results]
    for number, after_s in enumerate((0.1, 0.3, 0.8, 1.3, 2.0)):
        folder = tmp_path / str(number)
        folder.mkdir()
        code, errors = interrupted(words, after_s, folder)
        codes.append(code)
        assert code in (10, 130), errors
        assert "Traceback" not in errors
        assert "Error" not in errors
        left = {path.name for path in folder.iterdir()}
        assert left <= {"m.png", "r.json", "p.html"}  # what was finished before; never a part
        if code == 10:
            assert left == {"m.png", "r.json", "p.html"}
    assert 130 in codes


def test_an_interrupt_while_the_program_loads_is_no_traceback() -> None:
    program = (
        "import sys\n"
        "class Interrupt:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        "        if name == 'typer':\n"
        "            raise KeyboardInterrupt\n"
        "sys.meta_path.insert(0, Interrupt())\n"
        "sys.argv = ['printcheck', '--version']\n"
        "from printcheck.__main__ import main\n"
        "main()\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "")


@pytest.mark.skipif(os.name == "nt", reason="no SIGINT to a child there")
def test_an_interrupt_while_python_winds_up_keeps_the_exit_code() -> None:
    """atexit functions run after the program's end: there the interrupt comes at a moment that is always the same."""
    program = (
        "import atexit, os, signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler); "
        "atexit.register(os.kill, os.getpid(), signal.SIGINT); sys.argv = ['printcheck', '--version']; "
        "from printcheck.__main__ import main; main()"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.skipif(os.name == "nt", reason="no SIGINT to a child there")
def test_an_interrupted_demo_leaves_no_half_file(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, "demo", "out"], cwd=tmp_path,
        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    for _ in range(2400):  # a busy machine takes its time
        if (tmp_path / "out" / "sheet.pdf").exists() or process.poll() is not None:
            break
        time.sleep(0.05)
    while process.poll() is None:  # a library that catches everything while it loads may swallow the first
        process.send_signal(signal.SIGINT)
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(3.0)
    _, errors = process.communicate(timeout=60)
    assert process.returncode == 130, errors
    assert "Traceback" not in errors
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"sheet.pdf"}


@pytest.mark.parametrize(
    "words",
    [
        ("score", "SAMPLE"),
        ("score", "SAMPLE", "--json", "-"),
        ("compare", "SAMPLE", "SAMPLE"),
        ("batch", "FOLDER"),
        ("watch", "FOLDER", "--once"),
        ("demo", "out"),
        ("log", "SAMPLE", "--ledger", "ledger.sqlite"),
        ("reference", "add", "SAMPLE", "--name", "own"),
        ("calibrate", "SAMPLE", "--values", "VALUES", "--name", "own"),
        ("strip", "read", "SAMPLE", "--calibration", "own", "--out", "strip.json"),
    ],
    ids=lambda words: words[0],
)
def test_opencv_that_cannot_start_is_one_line_whatever_the_command(
    words: tuple[str, ...], tmp_path: Path, samples: Path
) -> None:
    """OpenCV's own words on a machine without the windowing libraries (opencv-python 5.0 on a bare Debian 12)."""
    stand_in = tmp_path / "stand_in"
    stand_in.mkdir()
    (stand_in / "cv2.py").write_text(
        "raise ImportError('libxcb.so.1: cannot open shared object file: No such file or directory', name='cv2')\n"
    )
    (tmp_path / "folder").mkdir()
    shutil.copy(samples / "black-good.jpg", tmp_path / "folder")
    (tmp_path / "values.txt").write_text("CGATS.17\n")
    places = {
        "SAMPLE": str(samples / "black-good.jpg"),
        "FOLDER": str(tmp_path / "folder"),
        "VALUES": str(tmp_path / "values.txt"),
    }
    done = subprocess.run(
        [sys.executable, "-m", "printcheck", *(places.get(word, word) for word in words)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(stand_in), str(ROOT)]), "HOME": str(tmp_path)},
        cwd=tmp_path, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode not in (0, 10, 20, 30)
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert "libgl1" in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_a_fault_of_the_program_is_one_line_and_its_traceback_is_kept(tmp_path: Path, samples: Path) -> None:
    program = (
        "import sys, printcheck.pipeline\n"
        "def broken(*args, **kwargs): return [][0]\n"
        "printcheck.pipeline.score_image = broken\n"
        "sys.argv = ['printcheck', 'score', sys.argv[1]]\n"
        "from printcheck.__main__ import main\n"
        "main()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(samples / "black-good.jpg")],
        capture_output=True, text=True, check=False, env={**os.environ, "XDG_STATE_HOME": str(tmp_path)},
    )  # fmt: skip
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert "a fault of the program, not of your input: IndexError" in done.stderr
    kept = Path(done.stderr.strip().rsplit(" and ", 1)[1])
    assert "Traceback" in kept.read_text()
