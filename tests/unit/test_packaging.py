"""The wheel: built as a stranger would, it carries its data, finds it where it is unpacked, and plans from there."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

import optimiser
from optimiser.job_folder import package_data

ROOT = Path(optimiser.__file__).parents[1]
pytestmark = pytest.mark.skipif(
    not (ROOT / "pyproject.toml").is_file() or importlib.util.find_spec("hatchling") is None,
    reason="no checkout, or hatchling is not installed: no wheel can be built",
)


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    into = tmp_path_factory.mktemp("wheel")
    build = ["-m", "hatchling", "build", "-t", "wheel", "-d", str(into)]
    subprocess.run([sys.executable, *build], cwd=ROOT, check=True, capture_output=True, timeout=120)
    (built,) = into.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel unpacked where no checkout is near: what an installer does with a pure wheel."""
    site = tmp_path_factory.mktemp("site")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    return site


def python(site: Path, *words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(site)}
    return subprocess.run(
        [sys.executable, *words],
        check=False,
        cwd=cwd,
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        env=environment,
    )


def test_the_wheel_carries_package_types_data_and_licence_and_nothing_else(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    for data in (ROOT / "data").rglob("*.*"):
        assert f"optimiser/{data.relative_to(ROOT).as_posix()}" in names
    assert "optimiser/data/guide/answer.md" in names
    templates = {path.relative_to(ROOT).as_posix() for path in (ROOT / "optimiser/show/html/templates").iterdir()}
    assert templates <= set(names)
    assert "optimiser/py.typed" in names
    assert any(name.endswith("licenses/LICENSE") for name in names)
    assert {name.split("/")[0].split("-")[0] for name in names} == {"optimiser"}
    assert not [name for name in names if "test" in name or "__pycache__" in name]
    modules = {path.relative_to(ROOT).as_posix() for path in (ROOT / "optimiser").rglob("*.py")}
    assert modules == {name for name in names if name.endswith(".py")}


def test_the_wheel_declares_the_command_and_python(wheel: Path) -> None:
    archive = zipfile.ZipFile(wheel)
    told = {name.rsplit("/", 1)[1]: archive.read(name).decode() for name in archive.namelist() if "dist-info/" in name}
    assert "optimiser = optimiser.cli:main" in told["entry_points.txt"]
    assert "Requires-Python: >=3.11" in told["METADATA"]


def test_data_is_found_in_the_installed_package(installed: Path, tmp_path: Path) -> None:
    script = (
        "import optimiser; from optimiser.job_folder import packed;"
        "print(optimiser.__file__); print(packed.folder()); print(sorted(packed.conditions()), len(packed.cautions()))"
    )
    ran = python(installed, "-c", script, cwd=tmp_path)
    assert ran.returncode == 0, ran.stderr
    package, data, found = ran.stdout.splitlines()
    assert Path(package) == installed / "optimiser" / "__init__.py"
    assert Path(data) == installed / "optimiser" / "data"
    assert found == f"['new', 'refurbished', 'salvage'] {len(package_data.cautions())}"


def test_data_is_found_in_a_checkout() -> None:
    assert package_data.folder() == ROOT / "data"
    assert (package_data.folder() / "conditions.toml").is_file()


def test_an_installed_package_plans_as_the_checkout_does(installed: Path, tmp_path: Path) -> None:
    folder = shutil.copytree(ROOT / "examples" / "shortest", tmp_path / "shortest")
    words = ("-m", "optimiser", "plan", str(folder), "--json")
    there = python(installed, *words, cwd=tmp_path)
    here = python(ROOT, *words, cwd=tmp_path)
    assert (there.returncode, there.stderr) == (0, "")
    assert there.stdout == here.stdout


def test_data_that_is_missing_is_a_fault_that_says_what_to_do(installed: Path, tmp_path: Path) -> None:
    broken = tmp_path / "site"
    subprocess.run(["cp", "-r", str(installed), str(broken)], check=True)
    (broken / "optimiser" / "data" / "cautions.toml").unlink()
    folder = shutil.copytree(ROOT / "examples" / "shortest", tmp_path / "shortest")
    ran = python(broken, "-m", "optimiser", "plan", str(folder), cwd=tmp_path)
    assert ran.returncode == 70
    assert "install it again" in ran.stderr
    assert "Traceback" not in ran.stderr
