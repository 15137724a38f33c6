"""Imports run one way: from the command line down to the pattern, and the reader knows nothing of the simulator.

Every file is walked with `ast`; imports for type checkers only count too.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1] / "printcheck"

# each may import what stands above it, and nothing that stands below
ORDER = (
    "errors", "units", "geometry", "limits", "aside", "regular", "parse", "machine", "robust", "student",
    "least_squares", "pattern", "colour", "capture", "register", "measure", "verdict", "document", "report", "ledger",
    "toner_sheet", "pipeline", "weights", "calibrate", "house", "pair", "bench", "places", "batch", "claim", "watch",
    "cli", "__main__",
)  # fmt: skip
RANK = {name: number for number, name in enumerate(ORDER)}

# data that is made farther down, each with the one name it is made as and who needs it
UPWARD = {
    ("verdict", "document"): {"ScoredSheet"},  # two sheets are compared as they were recorded
    ("report", "pipeline"): {"Scored"},  # a picture is drawn on the capture it was read from
    ("report", "ledger"): {"Rate", "Row", "Statistics"},  # figures of the ledger in words and as plots
}

RECORDS = ("measure.result", "measure.evenness_result", "measure.toner_result")  # frozen records of what was measured
BASE = {"errors", "units", "geometry", "limits", "aside", "regular", "parse", "robust", "student", "least_squares"}
NARROW = {
    "errors": set(),
    "units": {"errors"},
    "geometry": {"errors", "units"},
    "limits": set(),
    "aside": {"errors"},
    "regular": {"errors"},
    "parse": {"errors", "regular"},
    "robust": set(),
    "student": set(),
    "least_squares": set(),
    "machine": set(),
    "pattern": BASE,
    "colour": BASE,
    "capture": BASE | {"machine", "colour"},
    "register": BASE | {"colour", "pattern", "capture"},
    "measure": BASE | {"machine", "colour", "pattern", "capture", "register"},
    "verdict": BASE | {"pattern.inks", *RECORDS, "document"},  # judged with no picture in sight
    "document": BASE | {"pattern", *RECORDS, "verdict"},
    "ledger": BASE | {"document", "verdict"},  # never the report
    "simulate": BASE | {"pattern", "colour"},  # truth stays independent of what it is the truth for
}
IMAGE_LIBRARIES = {"cv2", "skimage", "scipy", "PIL", "reportlab", "pypdfium2", "zxingcpp", "segno"}
NO_IMAGES = sorted(BASE | {"verdict", "document", "ledger"})

FILES = sorted(ROOT.rglob("*.py"))


def unit_of(path: Path) -> str:
    """First part below the package: the folder, or the module at its top."""
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def imports_of(path: Path) -> list[tuple[str, str, int]]:
    """(module, name or "", line) of every import, inside functions too."""
    out = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            out += [(alias.name, "", node.lineno) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: relative import"
            out += [(node.module or "", alias.name, node.lineno) for alias in node.names]
    return out


def own_imports(path: Path) -> list[tuple[str, str, str, int]]:
    """(unit, module below printcheck, name, line) of imports from this package, the unit's own left out."""
    out = []
    for module, name, line in imports_of(path):
        parts = module.split(".")
        if parts[0] != "printcheck":
            continue
        below = parts[1:] or [name]
        if below[0] != unit_of(path) and below[0] != "__version__":
            out.append((below[0], ".".join(below), name, line))
    return out


READER = [path for path in FILES if unit_of(path) not in ("simulate", "__init__")]


def test_every_unit_has_its_place() -> None:
    """A new package or module is put into the order, or this fails."""
    assert {unit_of(path) for path in FILES} - {"__init__", "simulate"} == set(ORDER)


@pytest.mark.parametrize("path", READER, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_run_one_way(path: Path) -> None:
    unit = unit_of(path)
    wrong = []
    for target, module, name, line in own_imports(path):
        if target == "simulate":
            continue  # below
        if RANK[target] > RANK[unit] and name not in UPWARD.get((unit, target), set()):
            wrong.append(f"line {line}: {unit} imports {module}.{name}")
    assert wrong == []


@pytest.mark.parametrize("unit", NARROW)
def test_a_unit_imports_only_what_it_needs(unit: str) -> None:
    wrong = [
        f"{path.relative_to(ROOT)}:{line}: {module}.{name}"
        for path in FILES
        if unit_of(path) == unit
        for target, module, name, line in own_imports(path)
        if not {target, module} & NARROW[unit]
    ]
    assert wrong == []


def test_only_the_demo_knows_the_simulator() -> None:
    knows = {
        str(path.relative_to(ROOT))
        for path in READER
        if any(target == "simulate" for target, *_ in own_imports(path))
    }
    assert knows == {"cli/demo.py"}


@pytest.mark.parametrize("unit", NO_IMAGES)
def test_no_image_library_where_no_image_is(unit: str) -> None:
    wrong = [
        f"{path.relative_to(ROOT)}:{line}: {module}"
        for path in FILES
        if unit_of(path) == unit
        for module, _, line in imports_of(path)
        if module.split(".")[0] in IMAGE_LIBRARIES
    ]
    assert wrong == []


def test_nothing_reaches_for_the_tests_or_benchmarks() -> None:
    assert not [
        path for path in FILES for module, _, _ in imports_of(path) if module.split(".")[0] in ("tests", "benchmarks")
    ]
