"""The outcomes a bad input may have, each asserted in full: exit status, what was written, what the message says."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tests.bad_inputs.practice_works import CLERK, PracticeWorks, State
from tests.conftest import Ran

Json = dict[str, Any]


def only_file(ran: Ran) -> Json:
    """The one file of an import's answer; its counts add up."""
    (file,) = ran.data["files"]
    rows = file["rows"]
    assert rows["read"] == sum(rows[name] for name in ("taken", "same", "contested", "bench", "refused"))
    assert len(file["bench"]) == rows["bench"]
    return file  # type: ignore[no-any-return]


def plain(ran: Ran) -> str:
    """Everything a person sees; never a stack trace."""
    assert "Traceback" not in ran.out + ran.err
    return ran.out + ran.err


def assert_file_no(
    works: PracticeWorks, path: Path, profile: str, code: str, *, seen: str | tuple[str, ...], row: int | None = None,
    column: str | None = None, step: str = "", wanted: str = "",
) -> Json:  # fmt: skip
    """FILE-NO: refused for a person and for a program, nothing written in any table, no entry in the ledger."""
    before = works.state()
    ran = works.run("import", path, "--profile", profile, "--by", CLERK, "--json")
    assert ran.status == 1, ran.out
    assert ran.json["status"] == "refused"
    file = only_file(ran)
    assert (file["state"], file["batch"], file["bench"]) == ("refused", None, [])
    assert file["rows"]["read"] == file["rows"]["refused"]
    found = [f for f in ran.json["findings"] if f["code"] == code]
    assert found, ran.json["findings"]
    finding: Json = found[0]
    assert_whole(finding)
    for words in (seen,) if isinstance(seen, str) else seen:
        assert words in finding["seen"], finding
    assert wanted in finding["wanted"], finding
    assert step in finding["next"], finding
    assert finding["subject"].startswith(path.name), finding
    assert row is None or f", row {row}" in finding["subject"] + ",", finding
    assert column is None or finding["subject"].endswith(f", column {column}"), finding
    # the sentence a person reads says all of it, and that nothing was taken
    typed = works.run("import", path, "--profile", profile, "--by", CLERK)
    assert typed.status == 1
    for words in (finding["subject"], finding["seen"], finding["wanted"], "Nothing of the file was taken."):
        assert words in plain(typed), typed.out
    assert_unchanged(works, before)
    return finding


def assert_whole(finding: Json) -> None:
    """A finding says where, what was found, what was expected, and what to do next."""
    assert set(finding) == {"code", "subject", "seen", "wanted", "next"}
    for part in ("code", "subject", "seen", "wanted", "next"):
        assert finding[part].strip(), f"the finding does not say {part}: {finding}"


def assert_unchanged(works: PracticeWorks, before: State) -> None:
    """No row in any table and no entry in the ledger."""
    after = works.state()
    changed = {t: (before.tables[t], n) for t, n in after.tables.items() if before.tables[t] != n}
    assert changed == {}
    assert (after.entries, after.tip) == (before.entries, before.tip)


def assert_benched(
    works: PracticeWorks, ran: Ran, *, row: int, column: str | None, code: str, value: str, raw: bytes | str,
    wanted: str = "", step: str = "", file: str = "lab.csv", sheet: str = "",
) -> Json:  # fmt: skip
    """BENCH: the row waits on the bench with its original bytes, and the message says all it has to say."""
    answer = only_file(ran)
    assert ran.status == 3, ran.out
    assert (ran.json["status"], answer["state"]) == ("attention", "taken-with-bench")
    found = [line for line in answer["bench"] if (line["row"], line["sheet"]) == (row, sheet)]
    assert len(found) == 1, answer["bench"]
    line: Json = found[0]
    assert (line["code"], line["column"], line["value"]) == (code, column, value), line
    where = f"{file}, sheet {sheet}, row {row}" if sheet else f"{file}, row {row}"
    where += f', column "{column}"' if column is not None else ""
    assert line["message"].startswith(f'{where}: found "{value}"; '), line
    assert "was expected." in line["message"]
    assert wanted in line["message"], line
    assert step in line["next"], line
    number = line["bench_no"]
    assert any(f"heattrace bench {word} {number} " in line["next"] for word in ("fix", "attach", "void")), line
    original = raw.encode() if isinstance(raw, str) else raw
    assert works.bench_bytes(number) == original
    listed = works.run("bench", "list", "--json").data["bench"]
    assert [b["state"] for b in listed if b["bench_no"] == number] == ["waiting"]
    return line


def assert_flagged(ran: Ran, *, code: str, row: int, column: str, seen: str = "", file: str = "lab.csv") -> Json:
    """TAKE+WARN: taken, with a finding whose subject is `FILE, row N, column C`."""
    answer = only_file(ran)
    assert answer["state"] in ("taken", "taken-with-bench"), answer
    subject = f"{file}, row {row}, column {column}"
    found = [f for f in ran.json["findings"] if (f["code"], f["subject"]) == (code, subject)]
    assert len(found) == 1, ran.json["findings"]
    assert_whole(found[0])
    assert seen in found[0]["seen"], found[0]
    return found[0]  # type: ignore[no-any-return]


def assert_all_taken(ran: Ran, taken: int) -> None:
    """Done, every row taken."""
    rows = {"read": taken, "taken": taken, "same": 0, "contested": 0, "bench": 0, "refused": 0}
    answer = only_file(ran)
    assert (ran.status, answer["state"], answer["rows"]) == (0, "taken", rows), json.dumps(ran.json, indent=1)


def assert_command_no(works: PracticeWorks, *words: str | Path, says: tuple[str, ...], status: int = 1) -> Ran:
    """CMD-NO: refused in a plain sentence, nothing changed."""
    before = works.state()
    ran = works.run(*words)
    assert ran.status == status, plain(ran)
    for each in says:
        assert each in plain(ran), plain(ran)
    assert_unchanged(works, before)
    return ran
