"""No module takes another's private names: what is used elsewhere has a public name and a docstring."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]


def private_imports(tree: ast.AST) -> Iterator[str]:
    """Yield what a module of the package imports from others of it under a name with one leading underscore.

    Modules that begin with an underscore are shared within the layers and may be imported; what is private in them not.
    """
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.level or (node.module or "").split(".")[0] == "biomech"):
            folder = ROOT.joinpath(*(node.module or "").split("."))
            for name in (a.name for a in node.names):
                if name.startswith("_") and not name.startswith("__") and not (folder / f"{name}.py").exists():
                    yield f"{node.module}.{name}"


def test_no_private_name_crosses_a_module() -> None:
    found = {
        f"{path.relative_to(ROOT)}: {name}"
        for path in ROOT.glob("biomech/**/*.py")
        for name in private_imports(ast.parse(path.read_text(encoding="utf-8")))
    }
    assert not found


def test_private_names_would_be_found() -> None:
    source = "from biomech.render import _film, probe\nfrom biomech.render.plots import RATIOS, _teeth\nfrom os import _exit"
    assert list(private_imports(ast.parse(source))) == ["biomech.render.plots._teeth"]
