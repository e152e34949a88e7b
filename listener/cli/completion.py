"""Completion scripts, made from the parser itself so that they cannot forget an option."""

from __future__ import annotations

import argparse

from listener.cli.arguments import build_parser


def _words() -> dict[str, list[str]]:
    """Options by command, and the commands themselves under the empty name."""
    parser = build_parser()
    commands = next(a for a in parser._actions if isinstance(a, argparse._SubParsersAction))
    words = {"": [*commands.choices, "--help", "--version"]}
    for name, command in commands.choices.items():
        options = [text for action in command._actions for text in action.option_strings if text.startswith("--")]
        arguments = [str(value) for action in command._actions for value in (action.choices or ())]
        words[name] = options + arguments
    return words


def completion_script(shell: str) -> str:
    """The script for bash, zsh or fish, without a newline at its end."""
    words = _words()
    return {"bash": _bash, "zsh": _zsh, "fish": _fish}[shell](words)


def _bash(words: dict[str, list[str]]) -> str:
    cases = "\n".join(f"        {name}) words='{' '.join(more)}' ;;" for name, more in words.items() if name)
    return f"""_bluethird() {{
    local here=${{COMP_WORDS[COMP_CWORD]}} words
    case ${{COMP_WORDS[1]}} in
{cases}
        *) words='{" ".join(words[""])}' ;;
    esac
    [ "$COMP_CWORD" = 1 ] && words='{" ".join(words[""])}'
    COMPREPLY=($(compgen -W "$words" -- "$here"))
}}
complete -o default -F _bluethird bluethird"""


def _zsh(words: dict[str, list[str]]) -> str:
    return f"autoload -U +X bashcompinit && bashcompinit\n{_bash(words)}"


def _fish(words: dict[str, list[str]]) -> str:
    lines = [f"complete -c bluethird -n __fish_use_subcommand -a '{' '.join(w for w in words[''] if w[0] != '-')}'"]
    for name, more in words.items():
        where = f"-n '__fish_seen_subcommand_from {name}'" if name else "-n __fish_use_subcommand"
        for word in more:
            if word.startswith("--"):
                lines.append(f"complete -c bluethird {where} -l {word[2:]}")
            elif name:
                lines.append(f"complete -c bluethird {where} -a {word}")
    return "\n".join(lines)
