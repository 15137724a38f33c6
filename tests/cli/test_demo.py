"""``printcheck demo``: the whole job in one command."""

from __future__ import annotations

import cv2


def test_the_demo_shows_the_whole_job(tmp_path, run_printcheck) -> None:
    done = run_printcheck("demo", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    folder = tmp_path / "printcheck-demo"
    assert {path.name for path in folder.iterdir()} == {"sheet.pdf", "scan.jpg", "marked.png"}
    assert (folder / "sheet.pdf").read_bytes().startswith(b"%PDF-")
    assert cv2.imread(str(folder / "scan.jpg")).shape[0] > 3000
    assert cv2.imread(str(folder / "marked.png")) is not None
    assert any(word in done.stdout for word in ("PURGE", "REJECT"))  # the cartridge it invents is a faulty one
    assert "DEMO-7" in done.stdout
    assert "imulated" in done.stdout
    for name in ("sheet.pdf", "scan.jpg", "marked.png"):
        assert name in done.stdout
    assert "Traceback" not in done.stderr


def test_an_earlier_demo_is_replaced_with_a_word_and_nobody_elses_file(tmp_path, run_printcheck) -> None:
    (tmp_path / "scan.jpg").write_bytes(b"somebody's own")
    done = run_printcheck("demo", ".", cwd=tmp_path)
    assert done.returncode == 2
    assert "scan.jpg is there already" in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["scan.jpg"]
    assert (tmp_path / "scan.jpg").read_bytes() == b"somebody's own"
    for name in ("sheet.pdf", "marked.png"):
        (tmp_path / name).write_bytes(b"of an earlier demo")
    done = run_printcheck("demo", ".", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "replaced" in done.stderr
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF-")


def test_a_folder_that_cannot_be_made_is_one_line(tmp_path, run_printcheck) -> None:
    (tmp_path / "taken").write_text("a file")
    done = run_printcheck("demo", "taken", cwd=tmp_path)
    assert done.returncode == 3
    assert done.stderr.count("\n") == 1
    assert "taken" in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]
