"""`prescreed completion SHELL`: a script that lets the shell complete commands, options and ids.

It is made from the commands' own parsers, so that there is no second list to maintain.
"""

from __future__ import annotations

import argparse
from importlib import import_module

from msgspec import Struct

from checker.cli import COMMANDS
from checker.run import rules_in_force
from checker.run.printing import output_option
from checker.run.telling import Parser


class Option(Struct, frozen=True):
    """A long option: what it does, whether it takes a value, and the possible values."""

    name: str
    help: str
    takes: bool
    choices: tuple[str, ...]


class Command(Struct, frozen=True):
    """What a command takes; rule: which of its positional arguments is a rule's id.

    1 is the first; 0 means all of them, -1 none.
    """

    options: list[Option]
    rule: int = -1


RULE_WORDS = {"RULE": 2, "ID|WORD": 0}
"""The positional arguments that are a rule's id, by name, and their places."""


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed completion",
        description="Print a script that lets the shell complete commands, options, and the ids of "
        "rules and codes.",
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
    rules, codes = _ids()
    known = {command: _command(command, {"RULE": rules, "CODE": codes}) for command in COMMANDS}
    if shell == "powershell":
        print(_powershell(known, rules))
    else:
        print(_fish(known, rules) if shell == "fish" else _bash(known, rules, zsh=shell == "zsh"))
    return 0


def _ids() -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The ids of the program's rules, and of the codes that they come from."""
    heads = rules_in_force.heads(rules_in_force.compiled_rules((), None))
    return tuple(rule.id for rule in heads.rules), tuple(heads.codes)


def _command(command: str, ids: dict[str, tuple[str, ...]]) -> Command:
    """A command's options; ids: the possible values, by the first word of an option's metavar."""
    module = import_module(f"checker.cli.{command.replace('-', '_')}")
    made = module.parser() if hasattr(module, "parser") else Parser()
    shown = [action for action in made._actions if action.help != argparse.SUPPRESS]
    options = [
        Option(
            name,
            action.help or "",
            action.nargs != 0,
            tuple(map(str, action.choices or ids.get(str(action.metavar).partition("[")[0], ()))),
        )
        for action in shown
        for name in action.option_strings
        if name.startswith("--")
    ]
    places = [
        RULE_WORDS[a.metavar] for a in shown if a.metavar in RULE_WORDS and not a.option_strings
    ]
    return Command(options, *places)


def _bash(known: dict[str, Command], rules: tuple[str, ...], *, zsh: bool) -> str:
    lines = ["autoload -U +X bashcompinit && bashcompinit"] if zsh else []
    lines += [
        "_prescreed() {",
        '    local word="${COMP_WORDS[COMP_CWORD]}" before="${COMP_WORDS[COMP_CWORD-1]}"',
        '    local command="${COMP_WORDS[1]}" words="" ids=""',
        '    if [ "$COMP_CWORD" -eq 1 ]; then',
        f'        COMPREPLY=($(compgen -W "{" ".join(known)} --help --version" -- "$word"))',
        "        return",
        "    fi",
        '    case "$command $before" in',
    ]
    for command, taken in known.items():
        lines += [
            f'        "{command} {option.name}") words="{" ".join(option.choices)}" ;;'
            for option in taken.options
            if option.choices
        ]
    lines += ["    esac", '    if [ -z "$words" ]; then', '        case "$command $COMP_CWORD" in']
    for command, taken in known.items():
        if taken.rule >= 0:
            place = str(taken.rule + 1) if taken.rule else "*"
            lines.append(f'            "{command} "{place}) ids="{" ".join(rules)}" ;;')
    lines += [
        "        esac",
        '        case "$command" in',
    ]
    for command, taken in known.items():
        names = " ".join(option.name for option in taken.options)
        lines.append(f'            {command}) words="{names}" ;;')
    lines += [
        "        esac",
        '        case "$word" in -*) ;; *) words="$ids" ;; esac',
        "    fi",
        '    COMPREPLY=($(compgen -W "$words" -- "$word"))',
        "}",
        "complete -o default -F _prescreed prescreed",
    ]
    return "\n".join(lines)


def _powershell(known: dict[str, Command], rules: tuple[str, ...]) -> str:
    """Options and their values for PowerShell, which calls a script block for them."""
    lines = [f"$rules = @({', '.join(map(_single, rules))})", "$prescreed = @{"]
    for command, taken in known.items():
        lines.append(f"    {_single(command)} = @{{")
        for option in taken.options:
            values = ", ".join(map(_single, option.choices))
            lines.append(f"        {_single(option.name)} = @({values})")
        lines.append("    }")
    named = {command: taken.rule for command, taken in known.items() if taken.rule >= 0}
    places = "; ".join(f"{_single(command)} = {place}" for command, place in named.items())
    lines += [
        "}",
        f"$ruleAt = @{{ {places} }}",
        "Register-ArgumentCompleter -Native -CommandName prescreed -ScriptBlock {",
        "    param($word, $ast, $position)",
        "    $typed = @($ast.CommandElements | ForEach-Object { $_.ToString() })",
        "    $before = if ($word) { $typed[-2] } else { $typed[-1] }",
        "    $command = if ($typed.Count -gt 1) { $typed[1] } else { '' }",
        "    $found = if (-not $prescreed.ContainsKey($command)) { $prescreed.Keys | Sort-Object }",
        "        elseif ($prescreed[$command].ContainsKey($before) -and "
        "$prescreed[$command][$before].Count) { $prescreed[$command][$before] }",
        "        elseif ($word -like '-*') { $prescreed[$command].Keys | Sort-Object }",
        "        elseif ($ruleAt.ContainsKey($command) -and ($ruleAt[$command] -eq 0 -or "
        "$ruleAt[$command] -eq $typed.Count - 2 + [int](-not $word))) { $rules }",
        '    $found | Where-Object { $_ -like "$word*" } |',
        "        ForEach-Object { [System.Management.Automation.CompletionResult]::new($_) }",
        "}",
    ]
    return "\n".join(lines)


def _single(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def _fish(known: dict[str, Command], rules: tuple[str, ...]) -> str:
    lines = []
    for command, taken in known.items():
        what = _quoted(COMMANDS[command])
        lines.append(f"complete -c prescreed -n __fish_use_subcommand -a {command} -d {what}")
        if taken.rule >= 0:
            at = f"; and test (count (commandline -opc)) -eq {taken.rule + 1}" if taken.rule else ""
            lines.append(
                f"complete -c prescreed -n '__fish_seen_subcommand_from {command}{at}' "
                f"-a {_quoted(' '.join(rules))}"
            )
        for option in taken.options:
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
