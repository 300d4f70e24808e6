"""The README's console blocks: run each command against a fresh demo works and put its true output below it.

    python -m tests.readme_blocks README.md

renews them; a test compares. Blocks marked ```console hold lines `$ heattrace ...`, each followed by its output (both
streams); a line `...` stands for output left out. Moments of writing, digests and seconds differ from run to run and
are compared by their shape only.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from heattrace.cli.app import main

BLOCK = re.compile(r"(```console\n)(.*?)(```)", re.S)
# Moments of this program's own writing; the works' invented days are all in 2025.
CHANGING = (
    (re.compile(r"20(?:2[6-9]|[3-9]\d)-\d\d-\d\d[T ]\d\d:\d\d(?::\d\d)?(?:\.\d+)?(?:[+-]\d\d:\d\d)?"), "<moment>"),
    (re.compile(r"20(?:2[6-9]|[3-9]\d)-\d\d-\d\d"), "<day>"),
    (re.compile(r"\b[0-9a-f]{12,64}\b"), "<digest>"),
    (re.compile(r"\b\d+\.\d+ s\b"), "<seconds>"),
    (re.compile(r"\b\d+ bytes\b"), "<bytes>"),
    # What is left of a balance after rounding differs between mathematics libraries.
    (re.compile(r" *-?\d\.\d+e-1\d\b| {2,}0\.0e\+00\b"), " <rounding>"),
    (re.compile(r"SQLite \d+\.\d+\.\d+"), "SQLite <version>"),
)


@contextlib.contextmanager
def demo_works() -> Iterator[Path]:
    """A folder in which the demo works was just built; the program finds its database there."""
    before, named = Path.cwd(), {k: os.environ.pop(k, None) for k in ("HEATTRACE_DB", "HEATTRACE_BY")}
    with tempfile.TemporaryDirectory() as name:
        os.chdir(name)
        try:
            with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
                status = main(["demo"])
            if status:
                raise RuntimeError(f"heattrace demo ended with {status}")
            os.environ["HEATTRACE_DB"] = "heattrace-demo/heattrace.db"
            yield Path(name)
        finally:
            os.chdir(before)
            os.environ.pop("HEATTRACE_DB", None)
            os.environ.update({k: v for k, v in named.items() if v is not None})


def answer(line: str) -> str:
    """What a command line prints, data and words about it."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        status = main(shlex.split(line)[1:])
    text = "\n".join(each.rstrip() for each in out.getvalue().splitlines())
    return text + (f"\n(exit status {status})" if status else "")


def commands(block: str) -> list[tuple[str, str]]:
    """(command line, output as documented) of one block."""
    found: list[tuple[str, list[str]]] = []
    for line in block.splitlines():
        if line.startswith("$ "):
            found.append((line[2:], []))
        elif found:
            found[-1][1].append(line)
    return [(command, "\n".join(lines).strip("\n")) for command, lines in found]


def renewed(text: str) -> str:
    """A document with every console block's output as it is now."""

    def one(match: re.Match[str]) -> str:
        parts = []
        for command, told in commands(match[2]):
            now = answer(command)
            parts.append(f"$ {command}\n{_kept(told, now)}\n")
        return match[1] + "\n".join(parts) + match[3]

    with demo_works():
        return BLOCK.sub(one, text)


def _kept(told: str, now: str) -> str:
    """The new output, cut where the documented one says `...`: as many lines before and after it as there were."""
    if "..." not in told.splitlines():
        return now
    lines, old = now.splitlines(), told.splitlines()
    at = old.index("...")
    before, after = at, len(old) - at - 1
    if before + after >= len(lines):
        return now
    return "\n".join([*lines[:before], "...", *(lines[-after:] if after else [])])


def shape(text: str) -> str:
    """Output with what differs from run to run taken out."""
    for pattern, word in CHANGING:
        text = pattern.sub(word, text)
    return text


def differing(text: str, run: Callable[[str], str] = answer) -> list[str]:
    """Commands of a document whose output is no longer the documented one."""
    wrong = []
    for block in BLOCK.findall(text):
        for command, told in commands(block[1]):
            now = shape(_kept(told, run(command)))
            if now.strip("\n") != shape(told).strip("\n"):
                wrong.append(f"$ {command}\n{now}")
    return wrong


if __name__ == "__main__":
    path = Path(sys.argv[1]).resolve()
    path.write_text(renewed(path.read_text(encoding="utf-8")), encoding="utf-8")
