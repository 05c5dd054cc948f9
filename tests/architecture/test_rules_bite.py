"""Every house rule catches a bad sample and leaves a good one alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.architecture.rules import RULES, read_package

LONG_BODY = "\n".join(f"    value_{n} = {n}" for n in range(61))
DEEP = """
    if a:
        for b in a:
            while b:
                with b:
                    if b:
                        pass
"""
# rule: file, text, a part of the expected message
BAD = [
    ("import direction", "circuit/x.py", "import loomwright.diagnosis\n", "circuit imports diag"),
    ("import direction", "diagnosis/x.py", "from loomwright import circuit\n", "imports circuit"),
    ("import direction", "jobs/x.py", "from loomwright.service import a\n", "imports service"),
    ("import direction", "jobs/x.py", "def f():\n    from ..web import a\n", "jobs imports web"),
    ("import direction", "errors.py", "from .units import a\n", "errors imports units"),
    ("import direction", "web/x.py", "from loomwright.cli import a\n", "web imports cli"),
    ("known packages", "gadget/x.py", "", "'gadget' has no place"),
    ("shell libraries", "service/x.py", "def f():\n    from fastapi import A\n", "fastapi outside"),
    ("shell libraries", "circuit/x.py", "import rich.table\n", "rich outside"),
    ("file length", "errors.py", "a = 1\n" * 501, "501 lines"),
    ("function length", "errors.py", f"def f():\n{LONG_BODY}\n", "f has 62 lines"),
    ("parameter count", "errors.py", "def f(a, b, c, d, *, e, g, h): ...\n", "f has 7 parameters"),
    ("nesting", "errors.py", f"def f(a):{DEEP}", "f is nested 5 deep"),
    ("docstrings", "errors.py", "'''A.'''\ndef f(): ...\n", "f has no docstring"),
    ("docstrings", "errors.py", "'''A.'''\nclass A:\n    '''A.'''\n    def b(self): ...\n", "b h"),
    ("docstrings", "errors.py", "a = 1\n", "the module has no docstring"),
    ("__all__", "errors.py", "a = 1\n", "no __all__"),
    ("print", "service/x.py", "def f():\n    print(1)\n", "print outside cli"),
    ("bare except", "errors.py", "try:\n    a\nexcept:\n    b\n", "catches everything"),
    ("bare except", "errors.py", "try:\n    a\nexcept BaseException:\n    b\n", "everything"),
    ("machine paths", "errors.py", "A = '/home/someone/x'\n", "a path of one machine"),
]
GOOD = '''"""A module that keeps every rule."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loomwright.circuit.other import Other

__all__ = ["shown"]


def shown(a: Other, b: int, *, c: int = 0) -> str:
    """Return a text."""
    if a:
        return "a"
    elif b:
        return "b"
    elif c:
        return "c"
    return ""
'''


def write(root: Path, name: str, text: str) -> None:
    path = root / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


@pytest.mark.parametrize(("rule", "name", "text", "message"), BAD)
def test_bad_sample_is_caught(
    tmp_path: Path, rule: str, name: str, text: str, message: str
) -> None:
    write(tmp_path, name, text)
    found = RULES[rule](read_package(tmp_path))
    assert len(found) == 1
    assert message in found[0]
    assert found[0].startswith(f"src/loomwright/{name}:")


def test_cycle_inside_a_package_is_caught(tmp_path: Path) -> None:
    write(tmp_path, "circuit/__init__.py", "")
    write(tmp_path, "circuit/a.py", "from loomwright.circuit import b\n")
    write(tmp_path, "circuit/b.py", "from loomwright.circuit.c import d\n")
    write(tmp_path, "circuit/c.py", "from .a import e\n")
    found = RULES["import cycles"](read_package(tmp_path))
    assert found == [
        "src/loomwright: import cycle: "
        "loomwright.circuit.a -> loomwright.circuit.b -> loomwright.circuit.c"
    ]


def test_cycle_through_a_package_facade_is_caught(tmp_path: Path) -> None:
    write(tmp_path, "circuit/__init__.py", "from loomwright.circuit.a import f\n")
    write(tmp_path, "circuit/a.py", "from loomwright.circuit import g\n")
    assert len(RULES["import cycles"](read_package(tmp_path))) == 1


def test_deferred_import_makes_no_cycle(tmp_path: Path) -> None:
    write(tmp_path, "circuit/a.py", "import loomwright.circuit.b\n")
    write(tmp_path, "circuit/b.py", "def f():\n    import loomwright.circuit.a\n")
    assert RULES["import cycles"](read_package(tmp_path)) == []


@pytest.mark.parametrize("rule", RULES)
def test_good_sample_passes(tmp_path: Path, rule: str) -> None:
    write(tmp_path, "circuit/good.py", GOOD)
    write(tmp_path, "circuit/other.py", GOOD.replace("circuit.other", "circuit.good"))
    assert RULES[rule](read_package(tmp_path)) == []


def test_every_rule_has_a_bad_sample() -> None:
    assert {rule for rule, *_ in BAD} | {"import cycles"} == set(RULES)
