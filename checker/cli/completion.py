"""`prescreed completion SHELL`: a script that lets the shell complete commands and options.

Made from the commands' own parsers, so that there is no second list to keep.
"""

from __future__ import annotations

import argparse
from importlib import import_module

from msgspec import Struct

from checker.cli import COMMANDS
from checker.run.printing import output_option
from checker.run.telling import Parser


class Option(Struct, frozen=True):
    """A long option: what it does, whether it takes a value, and which values there are."""

    name: str
    help: str
    takes: bool
    choices: tuple[str, ...]


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed completion",
        description="Print a script that lets the shell complete commands and options.",
        epilog='bash, zsh: eval "$(prescreed completion bash)" in .bashrc or .zshrc; '
        "fish: prescreed completion fish > ~/.config/fish/completions/prescreed.fish; "
        "PowerShell: prescreed completion powershell | Out-String | Invoke-Expression in $PROFILE",
    )
    made.add_argument("shell", choices=("bash", "zsh", "fish", "powershell"), help="which shell")
    output_option(made)
    return made


def run(words: list[str]) -> int:
    """Print the script."""
    shell = parser().parse_args(words).shell
    known = {command: _options(command) for command in COMMANDS}
    if shell == "powershell":
        print(_powershell(known))
    else:
        print(_fish(known) if shell == "fish" else _bash(known, zsh=shell == "zsh"))
    return 0


def _options(command: str) -> list[Option]:
    module = import_module(f"checker.cli.{command.replace('-', '_')}")
    made = module.parser() if hasattr(module, "parser") else Parser()
    return [
        Option(
            name,
            action.help or "",
            action.nargs != 0,
            tuple(str(choice) for choice in action.choices or ()),
        )
        for action in made._actions
        if action.help != argparse.SUPPRESS
        for name in action.option_strings
        if name.startswith("--")
    ]


def _bash(known: dict[str, list[Option]], *, zsh: bool) -> str:
    lines = ["autoload -U +X bashcompinit && bashcompinit"] if zsh else []
    lines += [
        "_prescreed() {",
        '    local word="${COMP_WORDS[COMP_CWORD]}" before="${COMP_WORDS[COMP_CWORD-1]}"',
        '    local command="${COMP_WORDS[1]}" words=""',
        '    if [ "$COMP_CWORD" -eq 1 ]; then',
        f'        COMPREPLY=($(compgen -W "{" ".join(known)} --help --version" -- "$word"))',
        "        return",
        "    fi",
        '    case "$command $before" in',
    ]
    for command, options in known.items():
        lines += [
            f'        "{command} {option.name}") words="{" ".join(option.choices)}" ;;'
            for option in options
            if option.choices
        ]
    lines += [
        "    esac",
        '    if [ -z "$words" ]; then',
        '        case "$command" in',
    ]
    for command, options in known.items():
        names = " ".join(option.name for option in options)
        lines.append(f'            {command}) words="{names}" ;;')
    lines += [
        "        esac",
        '        case "$word" in -*) ;; *) words="" ;; esac',
        "    fi",
        '    COMPREPLY=($(compgen -W "$words" -- "$word"))',
        "}",
        "complete -o default -F _prescreed prescreed",
    ]
    return "\n".join(lines)


def _powershell(known: dict[str, list[Option]]) -> str:
    """Options and their values for PowerShell, which asks a block of script for them."""
    lines = ["$prescreed = @{"]
    for command, options in known.items():
        lines.append(f"    {_single(command)} = @{{")
        for option in options:
            values = ", ".join(map(_single, option.choices))
            lines.append(f"        {_single(option.name)} = @({values})")
        lines.append("    }")
    lines += [
        "}",
        "Register-ArgumentCompleter -Native -CommandName prescreed -ScriptBlock {",
        "    param($word, $ast, $position)",
        "    $typed = @($ast.CommandElements | ForEach-Object { $_.ToString() })",
        "    $before = if ($word) { $typed[-2] } else { $typed[-1] }",
        "    $command = if ($typed.Count -gt 1) { $typed[1] } else { '' }",
        "    $found = if (-not $prescreed.ContainsKey($command)) { $prescreed.Keys | Sort-Object }",
        "        elseif ($prescreed[$command].ContainsKey($before) -and "
        "$prescreed[$command][$before].Count) { $prescreed[$command][$before] }",
        "        elseif ($word -like '-*') { $prescreed[$command].Keys | Sort-Object }",
        '    $found | Where-Object { $_ -like "$word*" } |',
        "        ForEach-Object { [System.Management.Automation.CompletionResult]::new($_) }",
        "}",
    ]
    return "\n".join(lines)


def _single(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def _fish(known: dict[str, list[Option]]) -> str:
    lines = []
    for command, options in known.items():
        what = _quoted(COMMANDS[command])
        lines.append(f"complete -c prescreed -n __fish_use_subcommand -a {command} -d {what}")
        for option in options:
            line = (
                f"complete -c prescreed -n '__fish_seen_subcommand_from {command}' "
                f"-l {option.name.removeprefix('--')}"
            )
            if option.choices:
                line += f" -x -a {_quoted(' '.join(option.choices))}"
            elif option.takes:
                line += " -r"
            lines.append(f"{line} -d {_quoted(option.help)}")
    return "\n".join(lines)


def _quoted(text: str) -> str:
    return "'" + text.replace("\\", "\\\\").replace("'", "\\'") + "'"
