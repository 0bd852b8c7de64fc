"""The top of the checkout holds what it must and nothing else."""

from __future__ import annotations

from house.source_tree import ROOT, committed_files, name_of

TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml",
    "bot", "dialogs", "rules", "tests", "deploy",
}  # fmt: skip


def test_the_top_level_is_the_fixed_list() -> None:
    """Beside names that start with a dot, exactly the fixed list stands at the top."""
    found = {name_of(path).split("/")[0] for path in committed_files()}

    assert {name for name in found if not name.startswith(".")} == TOP_LEVEL


def test_no_folder_of_tests_is_a_package() -> None:
    """A package under tests would hide the package of the same name that it tests."""
    packages = [name_of(path) for path in (ROOT / "tests").rglob("__init__.py")]

    assert packages == []


def test_the_start_scripts_can_be_run_as_they_are() -> None:
    """What README names as a command is executable and names its interpreter."""
    scripts = [ROOT / "deploy" / name for name in ("rehearse", "test", "check", "lock")]
    scripts.append(ROOT / ".ci" / "run")

    unusable = [
        name_of(path)
        for path in scripts
        if not path.stat().st_mode & 0o100 or not path.read_text().startswith("#!")
    ]

    assert unusable == []
