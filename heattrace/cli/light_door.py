"""A door for commands that must start at once: options read from a short table, help in the form of the others.

The library behind the other commands takes longer to load than such a command takes to answer.
"""

from __future__ import annotations

import os
from collections.abc import Sequence

from heattrace.errors import WrongUsage
from heattrace.values import dataclass

_WIDTH = 79


@dataclass(frozen=True, slots=True)
class Option:
    """One option: `metavar` empty for a flag; `names` the words it answers to, the first of them shown first."""

    key: str
    names: tuple[str, ...]
    help: str
    metavar: str = ""
    default: str = ""
    envvar: str = ""


@dataclass(frozen=True, slots=True)
class Given:
    """What was typed: the argument, the texts of options by key, the flags that were set."""

    argument: str
    texts: dict[str, str]
    flags: frozenset[str]


@dataclass(frozen=True, slots=True)
class LightDoor:
    """A command with one argument. `text` is its help: lines as they are, parted from the usage by a blank line."""

    command: str
    argument: str
    argument_help: str
    text: str
    options: tuple[Option, ...]

    def read(self, words: Sequence[str]) -> Given | None:
        """What was typed; None where help was asked for.

        Raises
        ------
        WrongUsage
            An unknown option, an option without its value, no argument or more than one.
        """
        by_name = {name: option for option in self.options for name in option.names}
        rest, arguments = list(words), []
        texts = {o.key: os.environ.get(o.envvar or "-", "") or o.default for o in self.options if o.metavar}
        flags: set[str] = set()
        while rest:
            word = rest.pop(0)
            if word == "--":
                arguments += rest
                break
            if not word.startswith("-") or word == "-":
                arguments.append(word)
                continue
            if word in ("--help", "-h"):
                return None
            name, equals, value = word.partition("=")
            option = by_name.get(name)
            if option is None or (equals and not option.metavar):
                raise WrongUsage(f'no option "{word}" here; "heattrace {self.command} --help" lists them')
            if not option.metavar:
                flags.add(option.key)
            elif equals or rest:
                texts[option.key] = value if equals else rest.pop(0)
            else:
                raise WrongUsage(f"{name} needs a value: {name} {option.metavar}")
        if len(arguments) != 1:
            seen = "none" if not arguments else " ".join(f'"{a}"' for a in arguments)
            raise WrongUsage(f"one {self.argument} was expected, found {seen}; put quotes round one that holds blanks")
        return Given(arguments[0], texts, frozenset(flags))

    def help(self) -> str:
        """The help page."""
        rows = [(self.argument, f"{self.argument_help}  [required]")]
        lines = [f"Usage: heattrace {self.command} [OPTIONS] {self.argument}", "", self.text, "", "Arguments:"]
        lines += _columns(rows)
        lines += ["", "Options:"]
        shown = [(f"{', '.join(o.names)} {o.metavar}".rstrip(), _note(o)) for o in self.options]
        lines += _columns([*shown, ("-h, --help", "Show this message and exit.")])
        return "\n".join(lines)


def _note(option: Option) -> str:
    notes = [f"env var: {option.envvar}"] if option.envvar else []
    notes += [f"default: ({option.default})"] if option.default else []
    return f"{option.help}  [{'; '.join(notes)}]" if notes else option.help


def _columns(rows: Sequence[tuple[str, str]]) -> list[str]:
    wide = max(len(left) for left, _ in rows) + 2
    lines = []
    for left, right in rows:
        line = f"  {left.ljust(wide)}"
        for word in right.split(" "):
            if len(line.rstrip()) + 1 + len(word) > _WIDTH and line.strip():
                lines.append(line.rstrip())
                line = " " * (wide + 2)
            line += f"{word} "
        lines.append(line.rstrip())
    return lines
