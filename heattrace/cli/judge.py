"""`heattrace judge ...`: compare steel with the limits of a grade; nothing is written."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from heattrace.cli.grade_source import named_grade, reader_of
from heattrace.cli.groups import new_app
from heattrace.cli.judgement_text import judgement_lines
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, Database
from heattrace.cli.output import Answer, give
from heattrace.cli.typed_product import Product, typed_requirement
from heattrace.errors import WrongUsage
from heattrace.judging.judge import judge_determinations
from heattrace.judging.judgement import MEETS, Judgement
from heattrace.judging.limits import CAST, PRODUCT
from heattrace.judging.requirement import FORMS
from heattrace.metallurgy.amount import AmountUnreadable, Composition, read_chem

judge_app = new_app("Compare steel with the limits of a grade; nothing is written.", single=True)

GradeName = Annotated[
    str | None,
    typer.Option("--grade", metavar="G", help="STANDARD:EDITION GRADE, or the short name only one grade has."),
]
Size = Annotated[
    str | None, typer.Option("--size", metavar="MM", help="Thickness of the ordered product, never of the bloom.")
]
Basis = Annotated[
    str | None,
    typer.Option("--basis", metavar="cast|product", help="Kind of analysis; cast unless said, for a piece both."),
]
Form = Annotated[
    str | None, typer.Option("--form", metavar="F", help=f"Form of the ordered product: {', '.join(FORMS)}.")
]
Options = Annotated[
    list[str] | None, typer.Option("--option", metavar="NAME", help="An option of the order, as copper; repeatable.")
]
Evidence = Annotated[
    list[str] | None,
    typer.Option("--evidence", metavar="NAME", help="Named evidence, as nitrogen-binders; repeatable."),
]
Flange = Annotated[str | None, typer.Option("--flange", metavar="MM", help="Flange thickness of the ordered product.")]
Area = Annotated[str | None, typer.Option("--area", metavar="MM2", help="Cross-section of the ordered product.")]
Rounding = Annotated[
    str | None,
    typer.Option("--rounding", metavar="absolute", help="Compare unrounded, whatever method the limits name."),
]
Chem = Annotated[
    list[str] | None,
    typer.Option("--chem", metavar='"C=0.18 ..."', help="Contents, mass %; repeated: determinations of one heat."),
]
Number = Annotated[str | None, typer.Argument(metavar="[HEAT|PIECE]", help="A heat or a piece of the record.")]
File = Annotated[Path | None, typer.Option("--file", metavar="FILE", help="Judge every analysis of a file.")]
ProfileName = Annotated[str | None, typer.Option("--profile", metavar="P", help="How that file is written.")]


@judge_app.command("judge")
def judge_command(
    number: Number = None,
    grade: GradeName = None,
    size: Size = None,
    basis: Basis = None,
    form: Form = None,
    option: Options = None,
    evidence: Evidence = None,
    flange: Flange = None,
    area: Area = None,
    rounding: Rounding = None,
    chem: Chem = None,
    file: File = None,
    profile: ProfileName = None,
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """Compare steel with the limits of a grade; nothing is written.

    A heat is judged by its cast analysis for every requirement it answers for, a piece by its estimated composition and
    its product analyses; --grade with --chem or --file judges what is typed or stands in a file. Limits are met by the
    rounding method of ASTM E29 unless they say otherwise; a content reported with < or > is decided only where it can
    be. Without a database the grade book shipped with the tool is used.

    \b
    Exit status: 0 meets, 1 refused, 2 wrong usage, 3 fails or undecided.

    \b
    Example:
        heattrace judge --grade C45E --chem "C=0.45 Si=0.25 Mn=0.65 P=0.012 S=0.010 Cr=0.25 Mo=0.06 Ni=0.35"
        heattrace judge 41878
    """
    asked = _basis(basis)
    if number is not None:
        typed = (grade, size, form, option, evidence, flange, area, rounding, chem, file, profile)
        if any(typed):
            raise WrongUsage("a heat or piece is judged for what it is ordered for; only --basis goes with its number")
        from heattrace.cli.judge_record import judge_number

        judge_number(number, basis=asked, db=db, as_json=as_json)
    if not grade or bool(chem) == (file is not None):
        raise WrongUsage(
            'judge needs the number of a heat or piece, or --grade G with --chem "C=0.18 Mn=1.44 ...", '
            "or --grade G with --file FILE --profile P"
        )
    product = Product(size, form, tuple(option or ()), tuple(evidence or ()), flange, area, rounding)
    if file is None and profile is None:
        judge_typed(grade, chem or (), basis=asked or CAST, product=product, db=db, as_json=as_json)
    if file is None or profile is None:
        raise WrongUsage("--file and --profile go together: the profile says how the file is written")
    from heattrace.cli.judge_file import judge_file

    judge_file(file, profile, grade, basis=asked or CAST, product=product, db=db, as_json=as_json)


def judge_typed(grade: str, chem: Sequence[str], *, basis: str, product: Product, db: str, as_json: bool) -> NoReturn:
    """Judge a typed analysis, or several typed determinations of one heat, and end the command."""
    compositions = [_composition(text) for text in chem]
    reader = reader_of(db)
    try:
        found = named_grade(grade, reader, db)
    finally:
        if reader is not None:
            reader.close()
    requirement = typed_requirement(found.grade, product)
    judgement = judge_determinations(compositions, requirement, basis=basis, subject="the typed analysis")
    give(
        Answer(
            "judge",
            judgement.as_json(),
            lines=lambda: judgement_lines(judgement),
            findings=judgement.findings,
            messages=[*_hints(judgement), *found.messages()],
            status="done" if judgement.verdict == MEETS else "attention",
            practice=found.practice,
        ),
        as_json=as_json,
    )


def _basis(text: str | None) -> str | None:
    if text not in (None, CAST, PRODUCT):
        raise WrongUsage(f'--basis: "{text}" is neither {CAST} nor {PRODUCT}')
    return text


def _composition(text: str) -> Composition:
    try:
        composition = read_chem(text)
    except AmountUnreadable as fault:
        offer = f' (was "{fault.suggestion}" meant?)' if fault.suggestion else ""
        raise WrongUsage(f'--chem: {fault}{offer}; write it as "C=0.18 Mn=1.44 N=<0.0020", in mass %') from None
    if not composition:
        raise WrongUsage('--chem is empty; write it as "C=0.18 Mn=1.44 N=<0.0020", in mass %')
    return composition


def _hints(judgement: Judgement) -> list[str]:
    if judgement.size_mm is None and any("not stated" in line.note for line in judgement.open()):
        return ["say more of the ordered product: --size MM, --form F, --option NAME, --evidence NAME"]
    return []
