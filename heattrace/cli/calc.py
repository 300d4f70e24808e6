"""`calc list` and one command per formula: a number with its source, its range and what went into it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Annotated, Any

import typer
import typer.core

from heattrace.cli.groups import new_app
from heattrace.cli.options import AsJson
from heattrace.cli.output import Answer, give, table
from heattrace.errors import WrongUsage
from heattrace.findings import Finding
from heattrace.metallurgy.amount import AmountUnreadable, Composition, read_chem, read_number
from heattrace.metallurgy.formula import Calculated, Formula, shown_number
from heattrace.metallurgy.registry import FORMULAS, LIQUIDUS_NAMES, calc, formula_list_json, formula_named

EXAMPLES = {
    "superheat": "--temperature-c 1548 --liquidus liquidus-principles-1994 "
    '--chem "C=0.10 Si=0.20 Mn=0.50 P=0.010 S=0.005 Cu=0.02 Ni=0.10 Mo=0.05 V=0.002 Cr=0.30"',
    "sum": '--of Cr+Mo+Ni --chem "Cr=0.25 Mo=0.06 Ni=0.35"',
}
EXAMPLE_CONTENT = {
    "C": "0.16", "Si": "0.25", "Mn": "0.90", "P": "0.012", "S": "0.008", "Cr": "0.05", "Mo": "0.02", "Ni": "0.05",
    "Cu": "0.10", "Al": "0.030", "V": "0.01", "Nb": "0.02", "B": "0.0003",
}  # fmt: skip

Chem = Annotated[
    str,
    typer.Option(
        "--chem", metavar='"C=0.16 Mn=0.90 ..."', help="Contents in mass %, parted by blanks, commas or semicolons."
    ),
]
Absent = Annotated[
    str | None, typer.Option("--absent", metavar="zero", help="Take needed elements that are absent as zero.")
]
Temperature = Annotated[
    str | None, typer.Option("--temperature-c", metavar="X", help="Reading in the tundish, degree C.")
]
Liquidus = Annotated[
    str | None, typer.Option("--liquidus", metavar="FORMULA", help=f"One of {', '.join(LIQUIDUS_NAMES)}.")
]
Of = Annotated[str | None, typer.Option("--of", metavar="SUM", help="A weighted sum, as Cr+Mo+Ni or Cu+10Sn.")]
# Taken like everywhere, so that a fixed --db in front of the words does no harm; no formula reads a database.
NoDatabase = Annotated[str | None, typer.Option("--db", hidden=True)]


class FormulaGroup(typer.core.TyperGroup):
    """Makes the command of the one formula that is asked for, so that the others cost nothing at start."""

    def list_commands(self, ctx: Any) -> list[str]:
        """`list`, then every formula in the order of the registry."""
        return ["list", *FORMULAS]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """The command of one formula; an unknown name is refused with the nearest."""
        if cmd_name == "list":
            return super().get_command(ctx, cmd_name)
        formula = formula_named(cmd_name)
        app = new_app("", single=True)
        app.command(formula.name, help=help_of(formula))(command_of(formula.name))
        return typer.main.get_command(app)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """The list of formulas straight from the registry."""
        with formatter.section("Commands"):
            formatter.write_dl([("list", "all formulas"), *((f.name, f.title) for f in FORMULAS.values())])


calc_app = typer.Typer(
    cls=FormulaGroup,
    help="Formulas by name, exact, each with its source. A needed element that is absent is refused: not determined is "
    'not zero.\n\n\b\nExample:\n  heattrace calc cev --chem "C=0.16 Mn=0.90 Cr=0.05 Mo=0.02 V=0.01 Ni=0.05 Cu=0.10"',
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["--help", "-h"]},
)


@calc_app.callback()
def formulas() -> None:
    """Keeps `list` a command of its own beside the formulas."""


@calc_app.command("list")
def list_formulas(as_json: AsJson = False, db: NoDatabase = None) -> None:
    """List every formula with its expression, unit, elements, range, source and status.

    \b
    Example:
      heattrace calc list --json
    """
    give(Answer("calc list", {"formulas": formula_list_json()}, lines=_list_lines), as_json=as_json)


def _list_lines() -> Iterator[str]:
    rows = [(f.name, f.title, f.unit, f.status) for f in FORMULAS.values()]
    yield from table(("formula", "title", "unit", "status"), rows)
    yield ""
    yield "expression, elements, range and source of one: heattrace calc FORMULA --help; of all: calc list --json"


def help_of(formula: Formula) -> str:
    """The help page of one formula."""
    example = EXAMPLES.get(formula.name) or '--chem "{}"'.format(
        " ".join(f"{element}={EXAMPLE_CONTENT[element]}" for element in formula.needs)
    )
    parts = [
        f"{formula.title[0].upper()}{formula.title[1:]}, in {formula.unit}.",
        formula.expression,
        f"Needs: {', '.join(formula.needs)}." if formula.needs else "",
        f"Optional: {', '.join(formula.optional)}." if formula.optional else "",
        f"Range: {formula.range}.",
        f"Source: {formula.source} ({formula.status}).",
        f"\b\nExample:\n  heattrace calc {formula.name} {example}",
    ]
    return "\n\n".join(part for part in parts if part)


def command_of(name: str) -> Callable[..., None]:
    """The function of one formula's command, with the options it takes and no others."""
    if name == "superheat":

        def superheat(
            chem: Chem,
            temperature_c: Temperature = None,
            liquidus: Liquidus = None,
            absent: Absent = None,
            as_json: AsJson = False,
            db: NoDatabase = None,
        ) -> None:
            answer = calc(
                name,
                _composition(chem),
                absent_zero=_absent_zero(absent),
                temperature_c=_temperature(temperature_c),
                liquidus=liquidus,
            )
            _give(answer, liquidus or name, as_json)

        return superheat
    if name == "sum":

        def weighted_sum(
            chem: Chem, of: Of = None, absent: Absent = None, as_json: AsJson = False, db: NoDatabase = None
        ) -> None:
            _give(calc(name, _composition(chem), absent_zero=_absent_zero(absent), of=of), name, as_json)

        return weighted_sum

    def formula(chem: Chem, absent: Absent = None, as_json: AsJson = False, db: NoDatabase = None) -> None:
        _give(calc(name, _composition(chem), absent_zero=_absent_zero(absent)), name, as_json)

    return formula


def _composition(chem: str) -> Composition:
    try:
        composition = read_chem(chem)
    except AmountUnreadable as fault:
        offer = f' (was "{fault.suggestion}" meant?)' if fault.suggestion else ""
        raise WrongUsage(f'--chem: {fault}{offer}; write it as "C=0.16 Mn=0.90 N=<0.0020", in mass %') from None
    if not composition:
        raise WrongUsage('--chem is empty; write it as "C=0.16 Mn=0.90 N=<0.0020", in mass %')
    return composition


def _absent_zero(absent: str | None) -> bool:
    if absent not in (None, "zero"):
        raise WrongUsage(f'--absent takes the word "zero", not "{absent}"')
    return absent == "zero"


def _temperature(text: str | None) -> Decimal | None:
    if text is None:
        return None
    try:
        return read_number(text)[0]
    except AmountUnreadable as fault:
        raise WrongUsage(f'--temperature-c: "{text}" is unreadable: {fault.reason}; write it as 1548') from None


def _give(answer: Calculated, of_range: str, as_json: bool) -> None:
    step = "outside its range a formula is a hint, not a ground to judge by"
    findings = [
        Finding("FORMULA-RANGE", f"{of_range}, {seen.element}", seen.seen, seen.range, step)
        for seen in answer.outside_range
    ]
    no_number = answer.formula == "superheat" and bool(answer.outside_range)
    messages = (
        ["no superheat: the liquidus formula is outside its range; choose one whose range holds this steel"]
        if no_number
        else []
    )
    give(
        Answer(
            f"calc {answer.formula}",
            answer.as_json(),
            lines=lambda: _lines(answer, FORMULAS[of_range].range),
            findings=findings,
            messages=messages,
            status="attention" if no_number else "done",
        ),
        as_json=as_json,
    )


def _lines(answer: Calculated, stated_range: str) -> Iterator[str]:
    yield f"{answer.title}: {_amount(answer)}"
    yield f"  of      {', '.join(f'{element} {text}' for element, text in answer.used) or 'nothing reported'}"
    if answer.absent:
        yield f"  zero    {', '.join(answer.absent)} (absent, taken as zero as asked)"
    yield f"  source  {answer.source} ({answer.status})"
    yield f"  range   {stated_range}"


def _amount(answer: Calculated) -> str:
    unit = "" if answer.unit == "ratio" else f" {answer.unit}"
    if answer.value is not None:
        return shown_number(answer.value) + unit
    if answer.low is not None and answer.high is not None:
        return f"between {shown_number(answer.low)} and {shown_number(answer.high)}{unit}"
    if answer.low is not None:
        return f"at least {shown_number(answer.low)}{unit}, open above"
    if answer.high is not None:
        return f"at most {shown_number(answer.high)}{unit}, open below"
    return "no number"
