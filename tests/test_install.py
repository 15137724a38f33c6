"""The install script on machines that this one is not: its decisions, with stand-ins for the system's programs.

OpenCV's wheel links libGL and glib's thread library; a server or container has neither.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
LINUX = "#!/bin/sh\necho Linux\n"
BOTH = "libGL.so.1 (libc6,x86-64) => /lib/libGL.so.1\nlibgthread-2.0.so.0 (libc6,x86-64) => /lib/libgthread-2.0.so.0"
TOOLS = ("sh", "dirname", "env", "mkdir", "cat", "chmod")

pytestmark = pytest.mark.skipif(os.name != "posix", reason="a shell script")


def install(folder: Path, *, libraries: str, apt: bool) -> tuple[int, str, list[str]]:
    """Run the script; returns its exit code, what it said, and the calls that would have changed the machine."""
    programs, calls = folder / "bin", folder / "calls"
    programs.mkdir()
    calls.write_text("")
    for tool in TOOLS:
        (programs / tool).symlink_to(shutil.which(tool) or f"/bin/{tool}")
    note = f'#!/bin/sh\necho "{{name}} $*" >> {calls}\n'
    stand_ins = {
        "uname": LINUX,
        "id": "#!/bin/sh\necho 1000\n",
        "ldconfig": f"#!/bin/sh\ncat <<END\n{libraries}\nEND\n",
        # makes no environment, but what a script may call in one
        "python3": "#!/bin/sh\n[ \"$1\" = -m ] || exit 0\nmkdir -p \"$3/bin\"\n"
        f'printf \'#!/bin/sh\\necho "pip $*" >> {calls}\\n\' > "$3/bin/pip"\nchmod +x "$3/bin/pip"\n',
        "sudo": f'#!/bin/sh\necho "sudo $*" >> {calls}\nexec "$@"\n',
    }  # fmt: skip
    if apt:
        stand_ins["apt-get"] = note.format(name="apt-get")
    for name, text in stand_ins.items():
        (programs / name).write_text(text)
        (programs / name).chmod(0o755)
    done = subprocess.run(
        [str(programs / "sh"), str(ROOT / ".ci" / "install")],
        env={"PATH": str(programs), "VENV": str(folder / "venv")}, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    return done.returncode, done.stderr, calls.read_text().splitlines()


def test_a_machine_without_the_libraries_gets_them(tmp_path: Path) -> None:
    code, said, calls = install(tmp_path, libraries="libc.so.6 (libc6) => /lib/libc.so.6", apt=True)
    assert code == 0, said
    installed = next(call for call in calls if call.startswith("apt-get install"))
    assert installed.endswith("libgl1 libglib2.0-0")
    assert calls.index("apt-get update -q") < calls.index(installed)
    assert any(call.startswith("sudo ") for call in calls)  # it is not run as root here
    assert "pip install" in calls[-1]


def test_only_what_is_missing_is_installed(tmp_path: Path) -> None:
    code, said, calls = install(tmp_path, libraries=BOTH.splitlines()[1], apt=True)
    assert code == 0, said
    assert next(call for call in calls if call.startswith("apt-get install")).endswith("recommends libgl1")


def test_a_machine_that_has_them_is_left_alone(tmp_path: Path) -> None:
    code, said, calls = install(tmp_path, libraries=BOTH, apt=True)
    assert code == 0, said
    assert not any(call.startswith(("apt-get", "sudo")) for call in calls)


def test_without_a_package_manager_it_says_what_to_install(tmp_path: Path) -> None:
    code, said, calls = install(tmp_path, libraries="", apt=False)
    assert code == 1
    assert said == (
        "OpenCV needs libgl1 libglib2.0-0: install them with this system's package manager, then run this again\n"
    )
    assert calls == []
