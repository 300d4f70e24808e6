"""The walk through the main job: three people, each with the commands they would type, and what those answer.

Everything goes through the program's own door; `run` is that door, so that nothing here knows a database.
"""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from shutil import copytree
from typing import Any

from heattrace.demo.order_of_import import DISPATCHES, LATE, OWN_PROFILES, STEPS, STORY, Step, source_folder
from heattrace.errors import HeattraceError

Door = Callable[[Sequence[str]], int]

CLERK, METALLURGIST, HANDLER = "M. Quist", "J. Albe", "I. Fenn"


class WalkStopped(HeattraceError):
    """A step of the walk did not end as it should."""

    code = "DEMO"


@dataclass(slots=True)
class Walk:
    """One walk: the door, the database and the folder of the practice files."""

    run: Door
    db: Path
    files: Path
    say: Callable[[str], None]

    def quiet(self, *words: str, allowed: Iterable[int] = (0, 3)) -> dict[str, Any]:
        """Run a command for its JSON `data`, printing nothing."""
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = self.run([*words, "--db", str(self.db), "--json"])
        if status not in allowed:
            raise WalkStopped(f"heattrace {' '.join(words)} ended with {status}: {out.getvalue()}{err.getvalue()}")
        answer: dict[str, Any] = json.loads(out.getvalue())
        return answer

    def show(self, *words: str, allowed: Iterable[int] = (0, 3)) -> None:
        """Print a command as typed, then its own answer."""
        self.say(f"\n$ heattrace {shell_words(words)}")
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = self.run([*words, "--db", str(self.db)])
        told = "\n".join(line for line in err.getvalue().splitlines() if not line.startswith("PRACTICE DATABASE"))
        for text in (out.getvalue().rstrip("\n"), told):
            if text:
                self.say(text)
        if status:
            self.say(f"(exit status {status})")
        if status not in allowed:
            raise WalkStopped(f"heattrace {' '.join(words)} ended with {status}")

    def title(self, text: str) -> None:
        """A heading."""
        self.say(f"\n{'=' * 100}\n{text}\n{'=' * 100}")


def shell_words(words: Iterable[str]) -> str:
    """Words as one would type them."""
    return " ".join(f'"{w}"' if not w or set(w) & set(" ;<>&|*?()$") else w for w in words)


def copy_files(folder: Path) -> Path:
    """Put the practice files beside the database, so that they can be looked at and taken in again."""
    files = folder / "files"
    copytree(source_folder(), files, dirs_exist_ok=True)
    return files


def walk(run: Door, db: Path, files: Path, say: Callable[[str], None]) -> None:
    """Fill the practice database and walk through the main job.

    Raises
    ------
    WalkStopped
        A command did not end as it should.
    """
    it = Walk(run, db, files, say)
    clerk(it)
    metallurgist(it)
    handler(it)


def clerk(it: Walk) -> None:
    """The lab clerk: profiles, files, the bench."""
    it.title(f"1  The lab clerk ({CLERK}) takes in what the laboratory, the caster and the office sent")
    for profile in OWN_PROFILES:
        it.quiet("profile", "add", str(it.files / profile), "--by", CLERK)
    it.quiet("works", "set", "zone", "Europe/Andorra", "--reason", "the works' zone", "--by", CLERK)
    # Invented, like everything of these works: r and R belong to a laboratory's own method studies.
    it.quiet("works", "set", "critical-difference", "C=0.012; S=0.0020", "--reason", "invented", "--by", CLERK)
    it.quiet(
        "works", "set", "liquidus-formula", "liquidus-principles-1994", "--reason", "carbon up to 0.5 %", "--by", CLERK
    )  # fmt: skip
    for step in STEPS:
        take_in(it, step)
    it.say("\nTwo rows name a heat nobody tapped. They wait on the bench; the rest is in. The clerk looks:")
    it.show("bench", "list")
    for row in it.quiet("bench", "list")["data"]["bench"]:
        right = dict(STORY.mistyped).get(row["value"])
        if right:
            it.show(
                "bench", "fix", row["bench_no"], "--set", f"heat_no={right}", "--reason", "TYPING", "--by", CLERK
            )  # fmt: skip


def take_in(it: Walk, step: Step) -> None:
    """Import one file and print one line about it."""
    answer = it.quiet("import", str(it.files / step.path), "--profile", step.profile, "--by", CLERK)
    for file in answer["data"]["files"]:
        rows = file["rows"]
        counted = f"{rows['taken']:>5} taken" + (f", {rows['bench']} on the bench" if rows["bench"] else "")
        it.say(f"  {file['batch']:<5} {step.path:<24} {counted:<28} {step.says}")


def metallurgist(it: Walk) -> None:
    """The metallurgist: judge, hold, release."""
    it.title(f"2  The metallurgist ({METALLURGIST}) judges, holds and releases")
    it.show("judge", STORY.off_grade_heat)
    it.show(
        "hold", STORY.off_grade_heat, "--reason", "CHEM-HIGH", "--note", "manganese above the maximum, charged twice",
        "--lift-on", f"analysis:{STORY.off_grade_element}", "--by", METALLURGIST,
    )  # fmt: skip
    it.show("release", STORY.off_grade_heat, "--by", METALLURGIST, allowed=(1,))
    it.show("release", STORY.good_heat, "--by", METALLURGIST)
    for heat in STORY.dispatched_heats:
        if heat != STORY.good_heat:
            it.quiet("release", heat, "--by", METALLURGIST)
    it.say(f"\nOne bloom of the grade change, {STORY.transition_piece}: its mean is inside the grade, its tail is not.")
    it.show(
        "release", STORY.transition_piece, "--for", STORY.transition_requirement, "--by", METALLURGIST, allowed=(1,)
    )
    it.show("holds", "--proposed")
    it.say("\nThree loads leave, and weeks later an amended nitrogen comes in:")
    for step in (*DISPATCHES, *LATE):
        take_in(it, step)
    it.show("why", STORY.amended_heat)


def handler(it: Walk) -> None:
    """The complaint handler: from a number misread to the heat record."""
    it.title(f"3  The complaint handler ({HANDLER}) has a photograph of a number: {STORY.complaint_as_read}")
    it.show("trace", STORY.complaint_as_read, allowed=(1,))
    it.say("\nNothing was picked. The paint and the delivery note say which one it is:")
    it.show("trace", STORY.complaint_piece)
    it.show("why", STORY.complaint_piece)
    it.show("db", "check")
