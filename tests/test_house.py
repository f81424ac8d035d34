"""The house holds: arrows one way, no cycles, everything annotated and documented."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SOURCE = ROOT / "src" / "standlight"

# From a room to the rooms it may know. What is not listed here is a breach.
PURE = {"errors", "music"}
MAY_KNOW = {
    "errors": set(),
    "music": {"errors"},
    "score": PURE,
    "passages": PURE | {"score"},
    "sound": PURE | {"score"},
    "criteria": PURE | {"sound", "score", "passages"},
    "workshop": PURE | {"sound", "score"},
    "listening": PURE | {"score", "sound", "criteria", "workshop"},
    "ratings": PURE,
    "kinds": PURE,
    "planning": PURE,
    "demo": PURE
    | {"score", "passages", "criteria", "ratings", "kinds", "programme", "workshop"},
    "programme": PURE
    | {"score", "passages", "criteria", "listening", "ratings", "kinds", "workshop"}
    | {"planning"},
    "web": PURE | {"score", "passages", "criteria", "listening", "ratings", "kinds", "programme"},
    "commands": PURE
    | {"score", "passages", "sound", "criteria", "listening", "workshop", "ratings"}
    | {"programme", "web", "demo"},
    "__init__": set(),
    "__main__": {"commands"},
}
SHELL = {"programme", "web", "commands", "demo", "__main__"}


def room_of(file: Path) -> str:
    first = file.relative_to(SOURCE).parts[0]
    return first.removesuffix(".py")


def source_files():
    return sorted(file for file in SOURCE.rglob("*.py") if "migrations" not in file.parts)


def imported_modules(file: Path):
    """Dotted names of ``standlight`` modules a file imports, wherever in the file it does."""
    for node in ast.walk(ast.parse(file.read_text())):
        if isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            for name in node.names:
                yield f"{node.module}.{name.name}"
        elif isinstance(node, ast.Import):
            for name in node.names:
                yield name.name


def test_arrows_between_rooms_go_up_the_list_only():
    breaches = []
    for file in source_files():
        room = room_of(file)
        for module in imported_modules(file):
            parts = module.split(".")
            if parts[0] != "standlight" or len(parts) < 2:
                continue
            if parts[1] != room and parts[1] not in MAY_KNOW[room] and parts[1] in MAY_KNOW:
                breaches.append(
                    f"{file.relative_to(ROOT)} knows {module}, but {room} may not know {parts[1]}"
                )
    assert not breaches, "\n".join(sorted(set(breaches)))


def test_every_room_of_the_source_is_on_the_list():
    rooms = {room_of(file) for file in source_files()}
    assert rooms == set(MAY_KNOW)


def test_pure_rooms_know_no_web_and_no_database():
    foreign = {"django", "django_q", "csp", "axes", "waitress", "sqlite3"}
    for file in source_files():
        if room_of(file) in SHELL:
            continue
        known = {module.split(".")[0] for module in imported_modules(file)}
        assert not known & foreign, f"{file.relative_to(ROOT)} knows {known & foreign}"


def test_no_module_is_in_a_cycle_of_imports():
    modules = {}
    for file in source_files():
        dotted = ".".join(file.relative_to(SOURCE.parent).with_suffix("").parts)
        modules[dotted.removesuffix(".__init__")] = file
    arrows = {
        name: {
            known
            for known in imported_modules(file)
            # A package's door is loaded first anyway; the arrow that counts is to the module.
            if known in modules and known != name and not name.startswith(known + ".")
        }
        for name, file in modules.items()
    }
    done, path = set(), []

    def visit(name):
        if name in path:
            pytest.fail("a cycle: " + " -> ".join([*path[path.index(name) :], name]))
        if name in done:
            return
        path.append(name)
        for known in sorted(arrows[name]):
            visit(known)
        path.pop()
        done.add(name)

    for name in sorted(arrows):
        visit(name)
    assert done == set(arrows)


def test_everything_is_annotated_documented_and_tidy():
    found = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "--output-format=concise", "."],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )
    assert found.returncode == 0, found.stdout[-4000:]


def test_no_file_outgrows_one_idea():
    long = [
        f"{file.relative_to(ROOT)} has {n} lines"
        for pattern in ("src/**/*.py", "src/**/*.js", "src/**/*.css", "src/**/*.html")
        for file in ROOT.glob(pattern)
        if "vendor" not in file.parts
        and "migrations" not in file.parts
        and (n := len(file.read_text().splitlines())) > 500
    ]
    assert not long, "\n".join(long)


def test_pages_hold_no_inline_script_and_no_inline_style():
    for page in SOURCE.rglob("templates/**/*.html"):
        text = page.read_text().lower()
        for slip in ("style=", "<style", "onclick=", "onsubmit=", "onload=", "javascript:"):
            assert slip not in text, f"{page.relative_to(ROOT)} holds {slip}"
        for script in text.split("<script")[1:]:
            assert "src=" in script.split(">")[0], f"{page.relative_to(ROOT)}: an inline script"


def test_every_setting_stands_in_the_manual():
    from standlight.web.settings_table import SETTINGS

    manual = (ROOT / "docs" / "manual" / "settings.md").read_text()
    for setting in SETTINGS:
        line = f"| `{setting.name}` | `{setting.default}` | {setting.sentence} |"
        assert line in manual, f"docs/manual/settings.md lacks the line:\n{line}"


def test_every_command_has_a_name_a_summary_and_a_page_in_the_manual():
    import importlib

    from standlight.commands import COMMANDS

    manual = (ROOT / "docs" / "manual" / "commands.md").read_text()
    for name in COMMANDS:
        module = importlib.import_module(f"standlight.commands.{name}")
        assert name == module.NAME
        assert module.SUMMARY
        assert f"./run {name}" in manual, f"docs/manual/commands.md does not tell of {name}"
