"""The rules of the layout, read from the source itself."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGES = ("compliance", "workshop", "builds")


def sources(package: str) -> list[Path]:
    return [p for p in (ROOT / package).rglob("*.py") if "migrations" not in p.parts]


def imports_of(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.add(node.module)
    return found


def tracked(*endings: str) -> list[Path]:
    listing = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True
    ).stdout.decode()
    names = [n for n in listing.split("\0") if n.endswith(endings)]
    return [ROOT / n for n in names if (ROOT / n).is_file()]


def test_the_core_imports_the_standard_library_only():
    for path in sources("compliance"):
        tops = {name.split(".")[0] for name in imports_of(path)}
        foreign = tops - set(sys.stdlib_module_names) - {"compliance"}

        assert foreign == set(), path


def test_workshop_does_not_know_builds_or_the_core():
    for path in sources("workshop"):
        tops = {name.split(".")[0] for name in imports_of(path)}

        assert not tops & {"builds", "compliance"}, path


WRITES = {"save", "create", "update", "delete", "bulk_create", "update_or_create"}
WRITES |= {"get_or_create", "bulk_update"}


def test_views_and_forms_never_write():
    for package in ("workshop", "builds"):
        for path in sources(package):
            where = str(path.relative_to(ROOT))
            if "views" not in where and "forms" not in where:
                continue
            for node in ast.walk(ast.parse(path.read_text())):
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                    called = node.func.attr
                    # a dict or a set may be updated; a queryset or a model may not
                    plain = called == "update" and not node.keywords
                    assert called not in WRITES or plain, f"{path}:{node.lineno}"


def test_no_rounding_in_the_core_before_a_comparison():
    for path in sources("compliance"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Compare):
                calls = [n for n in ast.walk(node) if isinstance(n, ast.Call)]
                names = [c.func.id for c in calls if isinstance(c.func, ast.Name)]

                assert "round" not in names, f"{path}:{node.lineno}"


PAGES = [p for p in tracked(".html") if "templates" in p.parts]


@pytest.mark.parametrize("path", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_pages_hold_no_inline_style_or_script_and_no_foreign_assets(path: Path):
    text = path.read_text()

    assert not re.search(r"\sstyle=", text)
    assert not re.search(r"<style\b", text)
    assert not re.search(r"<script(?![^>]*\ssrc=)", text)
    assert not re.search(r"\son[a-z]+=", text)
    assert not re.search(r"""(?:src|href)=["'](?:https?:)?//""", text)


@pytest.mark.parametrize("path", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_partial_says_what_it_needs(path: Path):
    if path.name.startswith("_"):
        assert path.read_text().startswith("{# Needs:")


def test_static_files_load_nothing_from_elsewhere():
    for path in tracked(".css", ".js"):
        assert not re.search(
            r"(?:url\(|import\s|fetch\()['\"]?https?:", path.read_text()
        )


TABLES = sorted((ROOT / "compliance" / "tables").glob("*.toml"))


@pytest.mark.parametrize("path", TABLES, ids=lambda p: p.name)
def test_every_table_names_its_source_and_its_units(path: Path):
    table = tomllib.loads(path.read_text())
    source = table.pop("source")

    assert {"document", "edition", "clause", "status"} <= source.keys()
    assert re.match(r"READ|MEMORY|COMMON PRACTICE|DERIVED", source["status"])
    assert table
    for name, entry in table.items():
        assert "unit" in entry, name


OWN_VERDICT = re.compile(
    r"\b(?:is|are|now|fully)\s+(?:legal|compliant|certified)\b|\bcomplies with\b",
    re.IGNORECASE,
)


def test_the_tool_never_certifies():
    own = [p for package in PACKAGES for p in sources(package)]
    for path in [*PAGES, *own, *tracked(".js", ".csv", ".toml")]:
        assert not OWN_VERDICT.search(path.read_text()), path


def test_no_file_carries_a_path_of_one_machine():
    pattern = re.compile(r"(?<![\w.])/(?:work|home|root|tmp|Users)/\w")
    pictures_and_fonts = {".png", ".ttf", ".woff2"}
    for path in tracked(""):
        if path == Path(__file__) or path.suffix in pictures_and_fonts:
            continue
        assert not pattern.search(path.read_text()), path


def test_no_module_runs_past_400_lines():
    for package in PACKAGES:
        for path in sources(package):
            assert len(path.read_text().splitlines()) <= 400, path


def test_every_service_that_changes_a_build_is_atomic():
    for path in (ROOT / "builds" / "services").glob("*.py"):
        for node in ast.parse(path.read_text()).body:
            if not isinstance(node, ast.FunctionDef):
                continue
            if not re.match(r"(add|update|remove|move|record|import|open)_", node.name):
                continue
            marks = [ast.unparse(d) for d in node.decorator_list]

            assert "transaction.atomic" in marks, f"{path.name}: {node.name}"
            assert not node.args.args, f"{path.name}: {node.name} takes positions"
