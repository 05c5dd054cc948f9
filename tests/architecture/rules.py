"""The house rules that a machine can check, each a function from parsed files to violations.

Every rule takes a list of `SourceFile` and returns lines of `file:line: what`. `test_rules_bite.py`
shows each rule catching a bad sample; `test_rules_hold.py` applies them to the package.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

__all__ = ["RULES", "SourceFile", "read_package"]

PACKAGE = "loomwright"
MAX_FILE_LINES = 500
MAX_FUNCTION_LINES = 60
MAX_PARAMETERS = 6
MAX_NESTING = 4
# A package may import itself and packages of a lower order; of its own order only where named.
ORDER = {
    "errors": 1, "units": 1, "plant": 1, "data": 1,
    "circuit": 2, "aircon": 2, "bus": 2, "sizing": 2, "waveform": 2, "demo": 2,
    "diagnosis": 3,
    "jobs": 4, "practice": 4, "trial": 4,
    "service": 5,
    "web": 6, "cli": 6,
    "__main__": 7, "": 0,
}
SAME_ORDER_ALLOWED = {
    ("units", "errors"), ("data", "errors"), ("data", "units"), ("plant", "errors"),
    ("cli", "web"),  # `serve` starts the web application
}
# The one pair that the order alone would allow: the engine knows no physics.
FORBIDDEN = {("diagnosis", physics) for physics in ("circuit", "aircon", "bus", "waveform")}
SHELL_LIBRARIES = {"fastapi", "starlette", "jinja2", "uvicorn", "click", "rich", "multipart"}
SHELL_PACKAGES = {"web", "cli", "__main__"}
MACHINE_PATH = re.compile(r"(?<![\w.])/(?:work|home|root|tmp|Users|mnt|srv)/\w|[A-Za-z]:\\\\?Users")


@dataclass(frozen=True)
class SourceFile:
    """One parsed module: its dotted name, the path shown to people, its text and its tree."""

    module: str
    shown: str
    text: str
    tree: ast.Module
    is_package: bool

    @property
    def package(self) -> str:
        """Return the top-level package or module under `loomwright` ('' for its own __init__)."""
        return top_of(self.module)


@dataclass(frozen=True)
class Import:
    """One import of our own package: the module named, and whether it runs when loading."""

    target: str
    line: int
    at_load: bool


def top_of(module: str) -> str:
    """Return the first name below the package."""
    return [*module.split("."), ""][1]


def read_package(root: Path) -> list[SourceFile]:
    """Return every module below the folder `root`, which is the package itself."""
    found = []
    for path in sorted(root.rglob("*.py")):
        parts = [PACKAGE, *path.relative_to(root).with_suffix("").parts]
        is_package = parts[-1] == "__init__"
        name = ".".join(parts[:-1] if is_package else parts)
        text = path.read_text(encoding="utf-8")
        shown = f"src/{PACKAGE}/{path.relative_to(root).as_posix()}"
        found.append(SourceFile(name, shown, text, ast.parse(text, filename=shown), is_package))
    return found


def functions(tree: ast.AST) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    """Yield every function and method, nested ones too."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


# --- imports ---------------------------------------------------------------------------------


def _typing_only(node: ast.AST) -> bool:
    return isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)


def _walk_imports(node: ast.AST, at_load: bool) -> Iterator[tuple[ast.stmt, bool]]:
    """Yield import statements with whether they run when the module is loaded."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Import | ast.ImportFrom):
            yield child, at_load
        deferred = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        if _typing_only(child):
            assert isinstance(child, ast.If)
            for statement in child.body:
                if isinstance(statement, ast.Import | ast.ImportFrom):
                    yield statement, False
            continue
        yield from _walk_imports(child, at_load and not deferred)


def imported_names(file: SourceFile) -> list[Import]:
    """Return every dotted name imported, relative imports made absolute.

    `from a import b` gives both `a` and `a.b`, since b may be a module.
    """
    found = []
    for statement, at_load in _walk_imports(file.tree, True):
        if isinstance(statement, ast.Import):
            found += [Import(alias.name, statement.lineno, at_load) for alias in statement.names]
        elif isinstance(statement, ast.ImportFrom):
            base = statement.module or ""
            if statement.level:
                drop = statement.level - (1 if file.is_package else 0)
                parts = file.module.split(".")
                base = ".".join([*parts[: len(parts) - drop], *([base] if base else [])])
            found.append(Import(base, statement.lineno, at_load))
            found += [
                Import(f"{base}.{alias.name}", statement.lineno, at_load)
                for alias in statement.names
            ]
    return found


def import_direction(files: Sequence[SourceFile]) -> list[str]:
    """Return imports that go against the order of packages."""
    found = []
    for file in files:
        for item in imported_names(file):
            if item.target.split(".")[0] != PACKAGE:
                continue
            target = top_of(item.target)
            if target in ("", file.package) or _may_import(file.package, target):
                continue
            found.append(f"{file.shown}:{item.line}: {file.package or PACKAGE} imports {target}")
    return sorted(set(found))


def _may_import(package: str, target: str) -> bool:
    if package == "" or target not in ORDER:
        return True  # the facade; and a name of the facade, such as __version__
    if (package, target) in FORBIDDEN:
        return False
    if package not in ORDER:
        return False
    return ORDER[target] < ORDER[package] or (package, target) in SAME_ORDER_ALLOWED


def known_packages(files: Sequence[SourceFile]) -> list[str]:
    """Return packages that the order does not know, which would escape it."""
    return [
        f"{file.shown}:1: package '{file.package}' has no place in the import order"
        for file in files
        if file.package not in ORDER
    ]


def shell_libraries(files: Sequence[SourceFile]) -> list[str]:
    """Return web and command-line libraries imported outside the shells."""
    found = {
        f"{file.shown}:{item.line}: {item.target.split('.')[0]} outside web and cli"
        for file in files
        if file.package not in SHELL_PACKAGES
        for item in imported_names(file)
        if item.target.split(".")[0] in SHELL_LIBRARIES
    }
    return sorted(found)


def import_cycles(files: Sequence[SourceFile]) -> list[str]:
    """Return groups of modules that import one another while loading."""
    modules = {file.module for file in files}
    edges = {
        file.module: {
            item.target
            for item in imported_names(file)
            if item.at_load and item.target in modules and item.target != file.module
        }
        for file in files
    }
    # `from package import module` inside that package loads the package first, which is under way.
    for module, targets in edges.items():
        targets -= {target for target in targets if module.startswith(f"{target}.")
                    and any(other.startswith(f"{target}.") for other in targets)}
    return [
        f"src/{PACKAGE}: import cycle: {' -> '.join(sorted(group))}" for group in _loops(edges)
    ]


def _loops(edges: dict[str, set[str]]) -> list[set[str]]:
    """Return the groups of nodes that reach one another."""
    reach = {node: _reachable(node, edges) for node in edges}
    groups: list[set[str]] = []
    for node in edges:
        group = {other for other in reach[node] if node in reach[other]}
        if group and group not in groups:
            groups.append(group)
    return groups


def _reachable(start: str, edges: dict[str, set[str]]) -> set[str]:
    seen: set[str] = set()
    waiting = list(edges[start])
    while waiting:
        node = waiting.pop()
        if node not in seen:
            seen.add(node)
            waiting += edges[node]
    return seen


# --- size and shape --------------------------------------------------------------------------


def file_length(files: Sequence[SourceFile]) -> list[str]:
    """Return files longer than the limit."""
    return [
        f"{file.shown}:1: {len(file.text.splitlines())} lines, at most {MAX_FILE_LINES}"
        for file in files
        if len(file.text.splitlines()) > MAX_FILE_LINES
    ]


def function_length(files: Sequence[SourceFile]) -> list[str]:
    """Return functions longer than the limit, docstring not counted."""
    found = []
    for file in files:
        for node in functions(file.tree):
            lines = (node.end_lineno or node.lineno) - node.lineno + 1
            if ast.get_docstring(node) is not None:
                text = node.body[0]
                lines -= (text.end_lineno or text.lineno) - text.lineno + 1
            if lines > MAX_FUNCTION_LINES:
                found.append(
                    f"{file.shown}:{node.lineno}: {node.name} has {lines} lines, "
                    f"at most {MAX_FUNCTION_LINES}"
                )
    return found


def parameter_count(files: Sequence[SourceFile]) -> list[str]:
    """Return functions with too many parameters; self and cls are not counted."""
    found = []
    for file in files:
        for node in functions(file.tree):
            given = node.args
            names = [a.arg for a in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
            count = len([name for name in names if name not in {"self", "cls"}])
            if count > MAX_PARAMETERS:
                found.append(
                    f"{file.shown}:{node.lineno}: {node.name} has {count} parameters, "
                    f"at most {MAX_PARAMETERS}"
                )
    return found


_BLOCKS = (ast.If, ast.For, ast.AsyncFor, ast.While, ast.With, ast.AsyncWith, ast.Try, ast.Match)


def _depth(node: ast.AST) -> int:
    """Return the deepest nesting of blocks below a node; an elif is as deep as its if."""
    deepest = 0
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            continue
        is_elif = isinstance(node, ast.If) and isinstance(child, ast.If) and node.orelse == [child]
        deepest = max(deepest, _depth(child) + (isinstance(child, _BLOCKS) and not is_elif))
    return deepest


def nesting(files: Sequence[SourceFile]) -> list[str]:
    """Return functions whose blocks are nested too deep."""
    return [
        f"{file.shown}:{node.lineno}: {node.name} is nested {_depth(node)} deep, "
        f"at most {MAX_NESTING}"
        for file in files
        for node in functions(file.tree)
        if _depth(node) > MAX_NESTING
    ]


# --- words and habits ------------------------------------------------------------------------


def docstrings(files: Sequence[SourceFile]) -> list[str]:
    """Return public modules, classes and functions without a docstring."""
    found = []
    for file in files:
        if file.text.strip() and ast.get_docstring(file.tree) is None:
            found.append(f"{file.shown}:1: the module has no docstring")
        found += [
            f"{file.shown}:{node.lineno}: {node.name} has no docstring"
            for node in _public_definitions(file.tree.body)
            if ast.get_docstring(node) is None
        ]
    return found


def _public_definitions(
    body: Sequence[ast.stmt],
) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef]:
    """Yield public functions and classes, and the public methods of public classes."""
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            if node.name.startswith("_") or _is_overload(node):
                continue
            yield node
            if isinstance(node, ast.ClassDef):
                yield from _public_definitions(node.body)


def _is_overload(node: ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef) -> bool:
    return any("overload" in ast.unparse(item) for item in node.decorator_list)


def all_lists(files: Sequence[SourceFile]) -> list[str]:
    """Return modules without `__all__`; a package's __init__ and __main__ need none."""
    found = []
    for file in files:
        if file.is_package or file.module.endswith("__main__"):
            continue
        targets = [
            target.id
            for node in file.tree.body
            if isinstance(node, ast.Assign | ast.AnnAssign)
            for target in (node.targets if isinstance(node, ast.Assign) else [node.target])
            if isinstance(target, ast.Name)
        ]
        if "__all__" not in targets:
            found.append(f"{file.shown}:1: no __all__")
    return found


def prints(files: Sequence[SourceFile]) -> list[str]:
    """Return calls of print outside the command line."""
    return [
        f"{file.shown}:{node.lineno}: print outside cli"
        for file in files
        if file.package != "cli"
        for node in ast.walk(file.tree)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id == "print"
    ]


def bare_excepts(files: Sequence[SourceFile]) -> list[str]:
    """Return handlers that catch everything, named or not."""
    return [
        f"{file.shown}:{node.lineno}: catches everything"
        for file in files
        for node in ast.walk(file.tree)
        if isinstance(node, ast.ExceptHandler)
        and (node.type is None or "BaseException" in ast.unparse(node.type))
    ]


def machine_paths(files: Sequence[SourceFile]) -> list[str]:
    """Return lines that hold a path of one machine."""
    return [
        f"{file.shown}:{number}: a path of one machine"
        for file in files
        for number, line in enumerate(file.text.splitlines(), 1)
        if MACHINE_PATH.search(line)
    ]


RULES = {
    "import direction": import_direction,
    "known packages": known_packages,
    "shell libraries": shell_libraries,
    "import cycles": import_cycles,
    "file length": file_length,
    "function length": function_length,
    "parameter count": parameter_count,
    "nesting": nesting,
    "docstrings": docstrings,
    "__all__": all_lists,
    "print": prints,
    "bare except": bare_excepts,
    "machine paths": machine_paths,
}
