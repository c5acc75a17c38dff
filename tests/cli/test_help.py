"""The first help that a newcomer reads."""

from __future__ import annotations

import pytest

from checker.cli import COMMANDS, USES, main


def test_help_names_every_command_once_under_its_use(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    lines = capsys.readouterr().out.splitlines()
    for name in COMMANDS:
        assert sum(line.startswith(f"  {name} ") for line in lines) == 1
    assert all(f"{use}:" in lines for use in USES)


def test_help_says_where_to_start_and_fits_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    main(["--help"])
    lines = capsys.readouterr().out.splitlines()
    start = lines.index("Start with one of these:")
    assert "prescreed check" in lines[start + 1]
    assert max(map(len, lines)) <= 80


def test_help_of_a_command_is_its_own(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["help", "site-sheet"])
    assert capsys.readouterr().out.startswith("usage: prescreed site-sheet")
