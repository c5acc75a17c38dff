"""What `tests/mutants.py` lists is there, and of the physics nothing is left out."""

from __future__ import annotations

import pytest

from tests.mutants import ROOT, TESTS


def test_every_module_of_physics_has_tests_that_hold_it() -> None:
    modules = {str(path.relative_to(ROOT)) for path in (ROOT / "checker/physics").glob("*.py")}
    assert modules - {"checker/physics/__init__.py"} <= TESTS.keys()


@pytest.mark.parametrize("module", TESTS)
def test_what_is_listed_is_there(module: str) -> None:
    assert all((ROOT / name).is_file() for name in (module, *TESTS[module]))
