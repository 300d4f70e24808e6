"""`heattrace ledger ...`: the chain of entries."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Annotated, Any

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, Database
from heattrace.cli.output import Answer, give, table

ledger_app = new_app("The append-only chain: one entry per changing command.")

LAST_ENTRIES = (
    "SELECT entry_no, at, by, action, subject, payload, clock_back, digest FROM ledger "
    "WHERE entry_no >= :first ORDER BY entry_no LIMIT :most"
)


@ledger_app.command("show")
def show(
    entry: Annotated[int | None, typer.Argument(metavar="[ENTRY]", help="Show this entry whole.")] = None,
    last: Annotated[int, typer.Option("--last", min=1, max=100000, help="How many of the newest entries.")] = 20,
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """Show the newest entries, or one entry whole.

    \b
    Example:
        heattrace ledger show --last 5
    """
    from heattrace.errors import NotFound
    from heattrace.store.engine import open_reader
    from heattrace.store.recorded import shown_at
    from heattrace.store.works import works_zone

    with open_reader(db) as reader:
        tip = int(reader.scalar("SELECT coalesce(max(entry_no), 0) FROM ledger"))
        first, most = (max(1, tip - last + 1), last) if entry is None else (entry, 1)
        zone = works_zone(reader)
        entries: list[dict[str, Any]] = [
            {
                "entry_no": r["entry_no"], "at": shown_at(r["at"], zone), "by": r["by"], "action": r["action"],
                "subject": r["subject"], "payload": json.loads(r["payload"]), "clock_back": bool(r["clock_back"]),
                "digest": r["digest"],
            }
            for r in reader.all(LAST_ENTRIES, first=first, most=most)
            if entry is None or r["entry_no"] == entry
        ]  # fmt: skip
        practice = reader.is_practice()
    if entry is not None and not entries:
        raise NotFound(f"no ledger entry {entry}; the last is {tip}")

    def lines() -> Iterable[str]:
        if entry is not None:
            yield from (f"{k:<10}  {v}" for k, v in entries[0].items() if k != "payload")
            yield json.dumps(entries[0]["payload"], ensure_ascii=False, indent=2)
            return
        rows = [(e["entry_no"], e["at"], e["by"], e["action"], e["subject"], e["digest"][:12]) for e in entries]
        yield from table(["entry", "at", "by", "action", "subject", "digest"], rows, right=[0])

    give(Answer("ledger show", {"entries": entries, "tip": tip}, lines, practice=practice), as_json=as_json)


@ledger_app.command("verify")
def verify(db: Database = DEFAULT_DATABASE, as_json: AsJson = False) -> None:
    """Walk the chain from the first entry and name the first that does not hold.

    \b
    Exit status: 0 unbroken, 3 broken (the entry is named).

    \b
    Example:
        heattrace ledger verify
    """
    from heattrace.store.engine import open_reader
    from heattrace.store.ledger import verify_chain

    with open_reader(db) as reader:
        chain = verify_chain(reader)
        practice = reader.is_practice()
    ok = chain.broken_at is None
    data = {"entries": chain.entries, "broken_at": chain.broken_at, "tip": chain.tip}

    def lines() -> Iterable[str]:
        if ok:
            yield f"{chain.entries} entries, unbroken"
            yield f"tip {chain.tip}"
        else:
            yield f"BROKEN at entry {chain.broken_at}; the last entry that holds has digest {chain.tip}"

    messages = [
        "What this cannot show: a chain computed anew from some entry on, or a removed tail. "
        "Only a tip printed or signed earlier can."
    ]
    give(
        Answer("ledger verify", data, lines, chain.findings, messages, "done" if ok else "attention", practice),
        as_json=as_json,
    )
