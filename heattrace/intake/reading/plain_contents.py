"""Contents of one analysis kept as whole parts per billion; an `Amount` is made of one only where somebody asks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import NamedTuple

from heattrace.intake.loading.analysis_pack import rebuilt
from heattrace.metallurgy.amount import NOT_REPORTED, UNREPORTED, Amount


class Report(NamedTuple):
    """How one content was reported: qualifier, unit of the file (`%` for mass %), places in mass %."""

    qualifier: str
    unit: str
    places: int


class Shape:
    """Elements of an analysis in the order of its rows, and how each was reported.

    Thousands of analyses of a file share one shape, so that what follows from it is worked out once. Shapes are told
    apart by identity: as a key a shape costs nothing, whatever the number of its elements.
    """

    __slots__ = ("_followed", "elements", "reports", "units")

    def __init__(self, elements: tuple[str, ...], reports: tuple[Report, ...]) -> None:
        self.elements, self.reports = elements, reports
        self.units = {e: report.unit for e, report in zip(elements, reports, strict=True) if report.unit != "%"}
        self._followed: dict[Shape, Shape] = {}

    def then(self, other: Shape) -> Shape:
        """The shape of an analysis whose rows go on in another; the same object for the same two."""
        made = self._followed.get(other)
        if made is None:
            made = Shape(self.elements + other.elements, self.reports + other.reports)
            self._followed[other] = made
        return made


class PlainContents(Mapping[str, Amount]):
    """Contents by element: numbers and bounds of at most seven places without odd zeros in front, or not reported.

    `ppb` has a whole number of parts per billion of mass for each element of the shape, None where not reported.
    """

    __slots__ = ("ppb", "shape")

    def __init__(self, shape: Shape, ppb: list[int | None]) -> None:
        self.shape, self.ppb = shape, ppb

    def __getitem__(self, element: str) -> Amount:
        if element not in self.shape.elements:
            raise KeyError(element)
        at = self.shape.elements.index(element)
        value, report = self.ppb[at], self.shape.reports[at]
        if value is None or report.qualifier == NOT_REPORTED:
            return UNREPORTED
        text = rebuilt(value, report.places)
        return Amount(report.qualifier, Decimal(text), text)

    def __iter__(self) -> Iterator[str]:
        return iter(self.shape.elements)

    def __len__(self) -> int:
        return len(self.ppb)

    def then(self, other: PlainContents) -> PlainContents:
        """These contents and those of the rows that follow."""
        return PlainContents(self.shape.then(other.shape), self.ppb + other.ppb)

    def total_ppb(self) -> int:
        """The sum of all numbers, bounds among them: no less than what the contents add up to."""
        return sum(filter(None, self.ppb))
