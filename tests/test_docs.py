"""What is documented is what is: console blocks, commands, exit statuses, the schema page."""

from __future__ import annotations

import re
from pathlib import Path

from heattrace.cli.app import COMMANDS
from heattrace.schema.page import renewed as renewed_schema
from tests.example_reports import FOLDER, REPORTS
from tests.example_reports import differing as differing_reports
from tests.readme_blocks import BLOCK, demo_works, differing

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_every_console_block_shows_true_output() -> None:
    """Renew them with `python -m tests.readme_blocks README.md`, and read what changed."""
    assert len(BLOCK.findall(README)) >= 5
    with demo_works():
        wrong = differing(README)
    assert not wrong, "\n\n".join(wrong)


def test_first_screen_says_what_it_is_and_has_the_two_commands() -> None:
    first = README.splitlines()[0]
    assert first.startswith("# heattrace")
    blocks = re.findall(r"```sh\n(.*?)```", README, re.S)
    assert "heattrace demo" in blocks[0]
    assert "pytest" in blocks[1]
    assert README.index("```sh") < 2500


def test_every_command_word_is_in_the_readme() -> None:
    missing = [word for word in COMMANDS if not re.search(rf"heattrace {word}\b", README)]
    assert not missing


def test_schema_page_is_made_from_the_comments() -> None:
    """Renew it with `python -m heattrace.schema.page DEVELOPERS.md`."""
    assert renewed_schema(DEVELOPERS) == DEVELOPERS


def test_readme_has_its_last_part_changes() -> None:
    parts = re.findall(r"^## (.+)$", README, re.M)
    assert parts[-1] == "Changes"


def test_example_reports_are_what_the_program_says() -> None:
    """Renew them with `python -m tests.example_reports`, and read what changed."""
    assert differing_reports() == []
    assert {path.name for path in FOLDER.iterdir()} == set(REPORTS)
