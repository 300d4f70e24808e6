"""`heattrace works ...`: the values a works may set, with editions."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Annotated, Any

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, By, Database, require_by
from heattrace.cli.output import Answer, give, table

works_app = new_app(
    "Values a works may set: thresholds, guards, ladder, zone ... Each has editions; results cite them."
)

Name = Annotated[str, typer.Argument(metavar="NAME", help="Name of the works value.")]


@works_app.command("show")
def show(
    name: Annotated[str | None, typer.Argument(metavar="[NAME]", help="Only this one.")] = None,
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """Show the values that hold, and what the shipped ones rest on.

    \b
    Example:
        heattrace works show ladder
    """
    from heattrace.store.engine import open_reader
    from heattrace.store.works import WORKS_VALUES, declared, works_edition

    names = [declared(name).name] if name else list(WORKS_VALUES)
    with open_reader(db) as reader:
        practice = reader.is_practice()
        values: list[dict[str, Any]] = []
        for each in names:
            value, edition = works_edition(reader, each)
            known = WORKS_VALUES[each]
            values.append(
                {
                    "name": each, "title": known.title, "value": value, "unit": known.unit, "edition": edition,
                    "origin": known.origin if edition == 0 else "set by the works",
                }
            )  # fmt: skip

    def lines() -> Iterable[str]:
        rows = [(v["name"], _short(v["value"]), v["unit"], v["edition"], v["origin"]) for v in values]
        if name:
            only = values[0]
            yield f"{only['name']}: {only['title']}"
            yield f"  value    {_short(only['value'], whole=True)}  [{only['unit']}]"
            yield f"  edition  {only['edition']} ({only['origin']})"
        else:
            yield from table(["name", "value", "unit", "edition", "rests on"], rows, right=[3])

    give(Answer("works show", {"values": values}, lines, practice=practice), as_json=as_json)


def _short(value: Any, *, whole: bool = False) -> str:
    text = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
    return text if whole or len(text) <= 44 else text[:41] + "..."


@works_app.command("set")
def set_value(
    name: Name,
    value: Annotated[str, typer.Argument(metavar="VALUE", help="Number, text, or words separated by commas.")],
    reason: Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why; kept with the edition.")],
    scope: Annotated[str, typer.Option("--scope", metavar="WORD", help="Only for this grade family.")] = "",
    db: Database = DEFAULT_DATABASE,
    by: By = None,
    as_json: AsJson = False,
) -> None:
    """Set a value as a new edition; earlier results keep the edition they cite.

    \b
    Example:
        heattrace works set zone Europe/Vienna --reason "our zone" --by "A. Weber"
    """
    from heattrace.errors import WrongUsage
    from heattrace.schema.people import WorksValue
    from heattrace.store.ledger import canonical
    from heattrace.store.work import begin_work
    from heattrace.store.works import declared, read_value, works_edition

    writer = require_by(by)
    known = declared(name)
    if scope and not known.scoped:
        raise WrongUsage(f"{name}: holds for the whole works; --scope does not apply")
    read = read_value(name, value)
    with begin_work(db, by=writer, action="works set", subject=name) as work:
        held, edition = works_edition(work.reader, name, scope)
        last = work.reader.scalar(
            "SELECT max(edition) FROM works_value WHERE name = :name AND scope = :scope", name=name, scope=scope
        )
        number = int(last or 0) + 1
        if held == read and edition:
            practice = work.reader.is_practice()
        else:
            work.add(
                WorksValue(name=name, scope=scope, edition=number, value=canonical(read), reason=reason.strip() or "-")
            )
            work.payload = {"name": name, "scope": scope, "edition": number, "value": read, "before": held}
            work.commit()
            practice = work.reader.is_practice()
            edition = number
    data = {"name": name, "scope": scope, "edition": edition, "value": read, "before": held}
    words = f"{name}: {_short(held, whole=True)} -> {_short(read, whole=True)} (edition {edition})"
    messages = ["Parts traced earlier keep the editions they cite until their cast book is taken in again."]
    give(Answer("works set", data, lambda: [words], messages=messages, practice=practice), as_json=as_json)


@works_app.command("history")
def history(name: Name, db: Database = DEFAULT_DATABASE, as_json: AsJson = False) -> None:
    """Show every edition of one value: who set it, when, why.

    \b
    Example:
        heattrace works history ladder
    """
    from heattrace.store.engine import open_reader
    from heattrace.store.recorded import shown_at
    from heattrace.store.works import HISTORY, declared, works_zone

    known = declared(name)
    with open_reader(db) as reader:
        zone = works_zone(reader)
        practice = reader.is_practice()
        editions: list[dict[str, Any]] = [
            {"edition": 0, "scope": "", "value": known.shipped, "by": None, "at": None, "reason": known.origin}
        ]
        editions += [
            {
                "edition": r["edition"], "scope": r["scope"], "value": json.loads(r["value"]), "by": r["by"],
                "at": shown_at(r["at"], zone), "reason": r["reason"],
            }
            for r in reader.all(HISTORY, name=name)
        ]  # fmt: skip

    def lines() -> Iterable[str]:
        rows = [
            (e["edition"], e["scope"] or "all", _short(e["value"]), e["by"] or "shipped", e["at"], e["reason"])
            for e in editions
        ]
        yield from table(["edition", "for", "value", "by", "at", "why"], rows, right=[0])

    give(Answer("works history", {"name": name, "editions": editions}, lines, practice=practice), as_json=as_json)
