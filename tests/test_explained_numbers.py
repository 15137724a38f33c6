"""No bare numbers: what stands at a reader's module top and is no limit says what it is."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1] / "printcheck"
READER = [
    path for part in ("colour", "measure", "register", "verdict") for path in sorted((ROOT / part).glob("*.py"))
]


def unexplained(path: Path) -> list[str]:
    """Names of numbers at a module's top that have no word beside, above or below them."""
    text = path.read_text(encoding="utf-8")
    lines, body = text.splitlines(), ast.parse(text).body
    told = False  # a comment or a docstring stands for the lines that follow it, up to a blank one
    out = []
    for node, after in zip(body, [*body[1:], None], strict=True):
        if not isinstance(node, ast.Assign | ast.AnnAssign):
            continue
        above = lines[node.lineno - 2].strip()
        told = above.startswith("#") or (told and above != "")
        numbers = [
            n for n in ast.walk(node.value or node) if isinstance(n, ast.Constant) and type(n.value) in (int, float)
        ]
        own = any("#" in line for line in lines[node.lineno - 1 : node.end_lineno])
        below = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
        if numbers and not (told or own or below):
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            out.append(f"{path.relative_to(ROOT)}:{node.lineno} {ast.unparse(target)}")
    return out


@pytest.mark.parametrize("path", READER, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_number_that_is_no_limit_says_what_it_is(path):
    assert not unexplained(path)
