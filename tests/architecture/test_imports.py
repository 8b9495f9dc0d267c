"""Which part may know which: read from the import statements themselves."""

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
APPS = ("kennel", "litters", "feeding", "health")
# Each may know itself and what stands before it; `feeding` and `health` do not know one another.
MAY_KNOW = {
    "kennel": {"kennel"},
    "litters": {"kennel", "litters"},
    "feeding": {"kennel", "litters", "feeding"},
    "health": {"kennel", "litters", "health"},
}
PURE = ("domain", "clock")


def _modules(*, generated: bool = True) -> list[Path]:
    found = [p for app in APPS for p in sorted((ROOT / app).rglob("*.py"))]
    return [p for p in found if generated or "migrations" not in p.parts]


def _imported(path: Path) -> Iterator[str]:
    package = path.relative_to(ROOT).with_suffix("").parts
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = list(package[: -node.level]) if node.level else []
            module = ".".join([*base, *([node.module] if node.module else [])])
            yield module
            yield from (f"{module}.{alias.name}" for alias in node.names)


def _name(path: Path) -> str:
    return str(path.relative_to(ROOT))


def _offences(allowed_top: dict[str, set[str]]) -> list[str]:
    found = []
    for path in _modules():
        app = path.relative_to(ROOT).parts[0]
        for name in _imported(path):
            top = name.split(".")[0]
            if top in APPS and top not in allowed_top[app]:
                found.append(f"{_name(path)} imports {name}")
    return found


def test_no_app_imports_one_that_stands_above_it() -> None:
    assert _offences(MAY_KNOW) == []


def test_the_check_of_import_directions_can_fail() -> None:
    assert any("imports kennel" in line for line in _offences({**MAY_KNOW, "litters": {"litters"}}))


def test_pure_modules_import_the_standard_library_and_one_another_only() -> None:
    found, seen = [], 0
    for path in _modules():
        parts = path.relative_to(ROOT).parts
        if not set(PURE) & set(parts[:-1]):
            continue
        seen += 1
        for name in _imported(path):
            words = name.split(".")
            ours = words[0] in APPS and (set(PURE) & set(words) or len(words) == 1)
            if not ours and words[0] not in sys.stdlib_module_names | {"dateutil"}:
                found.append(f"{_name(path)} imports {name}")
    assert seen > 20
    assert found == []


def test_pure_modules_have_neither_clock_nor_chance() -> None:
    found = []
    for path in _modules():
        if not set(PURE) & set(path.relative_to(ROOT).parts[:-1]):
            continue
        if {"random", "secrets", "time"} & {name.split(".")[0] for name in _imported(path)}:
            found.append(f"{_name(path)} imports a source of chance or time")
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Attribute) and node.attr in ("now", "today", "utcnow"):
                found.append(f"{_name(path)}:{node.lineno} reads the clock")
    assert found == []


# Who may import the identity models to read them before a kennel is known is `kennel.people` itself; the others go
# through its selectors and services, or name a model for a foreign key or a type.
def test_the_jobs_alias_is_used_by_jobs_only() -> None:
    users = {
        _name(path)
        for path in _modules(generated=False)
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Call)
        and any(
            isinstance(a, ast.Constant) and a.value == "jobs"
            for a in [*node.args, *(k.value for k in node.keywords)]
        )
        and isinstance(node.func, ast.Attribute)
        and node.func.attr in ("using", "cursor")
    }
    assert [name for name in users if "/api/" in name or "/web/" in name or "/pages" in name] == []


@pytest.mark.parametrize("app", APPS)
def test_every_public_name_says_what_it_gives(app: str) -> None:
    silent = []
    for path in _modules(generated=False):
        if path.relative_to(ROOT).parts[0] != app or not path.read_text().strip():
            continue
        tree = ast.parse(path.read_text())
        if not ast.get_docstring(tree) and path.name != "__init__.py":
            silent.append(_name(path))
        silent += [f"{_name(path)}:{name}" for name in _silent(tree)]
    assert silent == []


def _is_frame(node: ast.AST) -> bool:
    """AppConfig and Command: the framework gives the name, and a command says its purpose in `help`."""
    bases = {ast.unparse(base) for base in node.bases} if isinstance(node, ast.ClassDef) else set()
    return bool(bases & {"AppConfig", "BaseCommand"})


def _silent(tree: ast.Module) -> Iterator[str]:
    for node in tree.body:
        if _is_frame(node):
            continue
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            if not ast.get_docstring(node):
                yield node.name
            if isinstance(node, ast.ClassDef):
                for inner in node.body:
                    if (
                        isinstance(inner, ast.FunctionDef)
                        and not inner.name.startswith("_")
                        and not ast.get_docstring(inner)
                    ):
                        yield f"{node.name}.{inner.name}"
