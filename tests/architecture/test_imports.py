"""The rooms of the house: imports point downward only, each outside package has one room, modules stay short."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import optimiser
from optimiser.cli import program

PACKAGE = Path(optimiser.__file__).parent
EXAMPLES = PACKAGE.parent / "examples"
MODULES = {
    ".".join(("optimiser", *path.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(".__init__"): path
    for path in sorted(PACKAGE.rglob("*.py"))
}
LAYERS = [
    {"cli", "__main__"},
    {"page"},
    {"service"},
    {"reporting"},
    {"replanning", "guide", "bookkeeping", "starting", "supposing", "rereading", "taking_out"},
    {"show"},
    {"changes"},
    {"planning", "entries"},
    {"quote_import", "patterns"},
    {"sheet_files"},
    {"solver", "certificate", "state", "job_folder", "ledger"},
    {"diagnosis"},
    {"orders"},
    {"model"},
    {"cache"},
    {"money", "chances", "names", "files", "calls"},
    {"text"},
    {"errors"},
]
"""From the top: a room may import those of a lower layer. What wires a verb together stands above what it wires."""
SIDEWAYS = {("__main__", "cli")}
"""Neighbours in one layer that may be imported all the same."""


def modules(room: str, *names: str) -> set[str]:
    return {f"optimiser.{room}.{name}" for name in names}


NARROW = {
    ("show", "planning"): modules("planning", "long_shots", "sending", "tonight", "totals"),
    ("changes", "planning"): modules("planning", "choose", "options"),
    ("changes", "solver"): modules("solver", "solve"),
    ("planning", "certificate"): modules("certificate", "plan", "purchase_list"),
    ("planning", "solver"): modules(
        "solver",
        "exact_solve",
        "least_money",
        "narrowing",
        "option_question",
        "purchase_list",
        "shrinking",
        "solve",
        "what_if",
    ),
    ("planning", "diagnosis"): modules(
        "diagnosis", "belief", "candidates", "check_value", "evidence", "groups", "kept_routes", "limits", "shares"
    ),
    ("entries", "diagnosis"): modules("diagnosis", "belief", "group_evidence"),
    ("entries", "job_folder"): modules("job_folder", "package_data"),
    ("quote_import", "job_folder"): modules("job_folder", "opening", "package_data", "problems", "quote_sheets"),
    ("quote_import", "sheet_files"): modules("sheet_files", "currencies", "files", "grid"),
    ("sheet_files", "job_folder"): modules("job_folder", "opening", "problems"),
    ("patterns", "job_folder"): modules("job_folder", "opening", "package_data", "problems"),
    ("job_folder", "diagnosis"): modules("diagnosis", "belief"),
    ("state", "diagnosis"): modules("diagnosis", "belief", "evidence", "group_evidence", "groups"),
}
"""Rooms of which another may see these modules alone."""
BLIND = {
    "show": {
        "changes",
        "entries",
        "quote_import",
        "solver",
        "certificate",
        "state",
        "job_folder",
        "ledger",
        "diagnosis",
        "patterns",
    },
    "changes": {"entries", "quote_import", "certificate", "job_folder", "ledger", "diagnosis"},
    "planning": {"state", "ledger", "quote_import"},
    "entries": {"planning", "solver", "certificate", "ledger", "quote_import"},
    "quote_import": {"solver", "certificate", "state", "ledger", "diagnosis"},
    "patterns": {"solver", "certificate", "state", "ledger", "diagnosis", "orders"},
    "sheet_files": {"solver", "certificate", "state", "ledger", "diagnosis", "orders"},
    "solver": {"diagnosis", "orders"},
    "state": {"orders"},
    "ledger": {"diagnosis", "orders"},
    "diagnosis": {"errors"},
}
"""Lower rooms that are none of a room's business: the solver chooses from its offer, show tells what it is told."""
ONLY_IN = {
    "pulp": {"solver"},
    "highspy": {"solver"},
    "pandas": {"show.tables"},
    "sqlite3": {"ledger"},
    "click": {"cli"},
    "rich": {"show"},
    "jinja2": {"show.html.page"},
    "starlette": {"page"},
    "uvicorn": {"page.serving"},
    "numpy": {"diagnosis", "orders", "solver"},
}
OPENS_FILES = {
    "cache",
    "files",
    "job_folder",
    "patterns.catalogue",
    "quote_import",
    "sheet_files",
    "ledger",
    "cli",
    "show.as_csv",
    "show.as_xlsx",
    "page.uploads",
}
DOCUMENTED = (ast.Module, ast.ClassDef, ast.FunctionDef)
MOST_LINES, MOST_LINES_OF_A_FUNCTION = 550, 60


def room(module: str) -> str:
    """The first name below the package: its room; the package itself stands above everything."""
    return module.split(".")[1] if "." in module else ""


@cache
def text(module: str) -> str:
    return MODULES[module].read_text(encoding="utf-8")


@cache
def nodes(module: str) -> tuple[ast.AST, ...]:
    """Every node of its tree, the tree itself first."""
    return tuple(ast.walk(ast.parse(text(module))))


@cache
def imported(module: str) -> tuple[tuple[str, bool], ...]:
    """Every module that is imported, within functions too, and whether only a type checker sees it."""
    return tuple(_imported(module))


def _imported(module: str) -> Iterator[tuple[str, bool]]:
    guarded = {
        id(inner)
        for node in nodes(module)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
        for inner in ast.walk(node)
    }
    for node in nodes(module):
        if isinstance(node, ast.Import):
            yield from ((alias.name, id(node) in guarded) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: relative imports hide the direction"
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                yield whole if whole in MODULES else str(node.module), id(node) in guarded


def own(module: str) -> set[str]:
    return {name for name, _ in imported(module) if name.split(".")[0] == "optimiser" and name != "optimiser"}


def layer(name: str) -> int:
    found = [depth for depth, rooms in enumerate(LAYERS) if name in rooms]
    assert found, f"room {name!r} has no place in the house: give it one here"
    return found[0]


def allowed(module: str, name: str) -> bool:
    here, there = room(module), room(name)
    if there == here:
        return True
    down = layer(here) < layer(there) or (here, there) in SIDEWAYS
    return down and name in NARROW.get((here, there), {name})


def test_imports_point_downward() -> None:
    inside = [module for module in MODULES if room(module)]
    assert [f"{m} imports {name}" for m in inside for name in sorted(own(m)) if not allowed(m, name)] == []


def test_what_is_none_of_a_rooms_business() -> None:
    assert BLIND.keys() <= {room(module) for module in MODULES}
    seen = {m: {room(name) for name in own(m)} & BLIND.get(room(m), set()) for m in MODULES}
    assert {m: rooms for m, rooms in seen.items() if rooms} == {}


def test_every_narrow_door_is_used() -> None:
    """Else a rule above guards what is not there any more."""
    for (here, there), doors in NARROW.items():
        used = {name for module in MODULES if room(module) == here for name in own(module) if room(name) == there}
        assert used == doors, f"{here} sees {used} of {there}"


def test_the_witness_knows_the_model_alone() -> None:
    witness = {module for module in MODULES if room(module) == "certificate"}
    assert witness
    assert {room(name) for module in witness for name in own(module) - witness} <= {"model", "errors"}


def test_nothing_above_money_hides_below_it() -> None:
    assert own("optimiser.errors") == set()
    assert own("optimiser.money") <= {"optimiser.errors"}


def test_each_outside_package_has_one_room() -> None:
    used = {(m, name.split(".")[0]) for m in MODULES for name, for_types in imported(m) if not for_types}
    assert ONLY_IN.keys() <= {package for _, package in used}
    assert [(m, p) for m, p in sorted(used) if not {room(m), m.removeprefix("optimiser.")} & ONLY_IN.get(p, {room(m)})] == []  # noqa: E501 # fmt: skip


def test_what_may_wait_is_read_off_the_plan_alone() -> None:
    assert {room(name) for name in own("optimiser.planning.sending")} == {"model"}


def test_no_circle_of_modules() -> None:
    """At import time; a package's own ``__init__`` counts as the package."""
    seen: dict[str, int] = {}

    def visit(module: str, path: tuple[str, ...]) -> None:
        assert seen.get(module) != 1, f"a circle: {' -> '.join((*path, module))}"
        if seen.get(module) == 2:
            return
        seen[module] = 1
        for name in own(module):
            if name != module:
                visit(name, (*path, module))
        seen[module] = 2

    for module in MODULES:
        visit(module, ())


OPENERS = {"open", "read_text", "read_bytes", "write_text", "write_bytes", "iterdir", "mkstemp", "fdopen"}


def opens(module: str) -> set[str]:
    calls = [node for node in nodes(module) if isinstance(node, ast.Call)]
    named = {ast.unparse(call): getattr(call.func, "attr", getattr(call.func, "id", "")) for call in calls}
    return {call for call, name in named.items() if name in OPENERS and "devnull" not in call}


def test_only_read_and_the_writers_open_files() -> None:
    others = [m for m in MODULES if not {room(m), m.removeprefix("optimiser.")} & OPENS_FILES]
    assert {m: calls for m in others if (calls := opens(m))} == {}


def test_reading_does_open_files() -> None:
    """Else the test above looks for the wrong names."""
    assert any(opens(module) for module in MODULES if room(module) == "job_folder")
    assert opens("optimiser.show.as_csv")


def test_modules_and_functions_stay_short() -> None:
    assert {m: lines for m in MODULES if (lines := len(text(m).splitlines())) > MOST_LINES} == {}
    functions = [(m, n) for m in MODULES for n in nodes(m) if isinstance(n, ast.FunctionDef | ast.AsyncFunctionDef)]
    long = [(m, f.name, (f.end_lineno or 0) - f.lineno + 1) for m, f in functions]
    assert [each for each in long if each[2] > MOST_LINES_OF_A_FUNCTION] == []


def test_the_service_stays_on_one_screen_or_two() -> None:
    assert len(text("optimiser.service").splitlines()) <= 150


def test_no_module_is_a_drawer_for_odds_and_ends() -> None:
    drawers = {"utils", "util", "helpers", "helper", "manager", "common", "misc"}
    assert not [m for m in MODULES if drawers & set(m.replace("_", ".").split("."))]


def loaded_by(*words: str) -> set[str]:
    """Packages in memory after a run of the program, in a process of its own."""
    script = (
        "import sys; from optimiser.cli import main; code = main(sys.argv[1:]);"
        "sys.stderr.write('\\n' + ' '.join(sorted({name.split('.')[0] for name in sys.modules})));"
        "sys.exit(code)"
    )
    ran = subprocess.run([sys.executable, "-c", script, *words], capture_output=True, text=True, check=True)
    return set(ran.stderr.splitlines()[-1].split())


def shortest_in(folder: Path) -> str:
    """A copy of the shortest example: a plan is kept where it was made."""
    return str(shutil.copytree(EXAMPLES / "shortest", folder / "shortest"))


HEAVY = {"pulp", "highspy", "pandas", "numpy", "pydantic", "rich"}


def test_help_loads_nothing_heavy() -> None:
    assert loaded_by("--help") & HEAVY == set()


def test_what_is_written_down_waits_for_nothing_heavy() -> None:
    """A note moves nothing, so it shows what is loaded until an entry is on disk and said to be."""
    loaded = loaded_by("noted", str(EXAMPLES / "shortest"), "a word", "--suppose")
    assert loaded & {"pulp", "highspy", "pandas", "numpy", "rich"} == set()


def test_verify_needs_no_solver() -> None:
    assert loaded_by("verify", str(EXAMPLES / "shortest")) & {"pulp", "highspy", "pandas"} == set()


def test_plan_does_not_wait_for_pandas(tmp_path: Path) -> None:
    """Nor with a table and JSON, which are told by one call here."""
    table = tmp_path / "plan.csv"
    for way in ((), ("--json", "--csv", str(table))):
        loaded = loaded_by("plan", shortest_in(tmp_path / f"with-{len(way)}"), *way)
        assert "pandas" not in loaded
        assert "pulp" in loaded
    assert table.exists()


def test_no_class_name_is_given_twice() -> None:
    """A name in a traceback, a docstring or a talk means one thing."""
    trees = [nodes(module)[0] for module in MODULES]
    named = [node.name for tree in trees for node in getattr(tree, "body", ()) if isinstance(node, ast.ClassDef)]
    assert sorted(named) == sorted(set(named))


CALLS = re.compile(rf"\boptimiser ({'|'.join(program.commands.keys() - {'begin', 'guide'})})\b")
"""A call of a job, as it would be written where nobody knows how the job was named."""


def calls_printed(module: str) -> list[str]:
    documented = {id(node.body[0]) for node in nodes(module) if isinstance(node, DOCUMENTED) and node.body}
    told = {id(node.value) for node in nodes(module) if isinstance(node, ast.Expr) and id(node) in documented}
    said = [node.value for node in nodes(module) if isinstance(node, ast.Constant) and id(node) not in told]
    return [text for text in said if isinstance(text, str) and CALLS.search(text)]


def test_calls_are_printed_by_one_function() -> None:
    """All but the remark in a new job.toml, and a call that is printed word by word as it was typed."""
    found = {module: printed for module in MODULES if (printed := calls_printed(module))}
    assert found.keys() <= {"optimiser.starting", "optimiser.cli.sheets"}, found
