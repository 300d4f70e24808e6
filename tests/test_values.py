"""Value classes behave as the standard library's do, wherever both offer a thing."""

from __future__ import annotations

import copy
import dataclasses
import pickle
import subprocess
import sys
from typing import Any

import pytest

from heattrace import values


@values.dataclass(frozen=True, slots=True, order=True)
class Cut:
    """A cut of a run."""

    no: int
    kind: str = "piece"
    marks: tuple[int, ...] = values.field(default=(), repr=False)

    @property
    def is_piece(self) -> bool:
        return self.kind == "piece"


@values.dataclass(slots=True)
class Run:
    no: int
    cuts: list[Cut] = values.field(default_factory=list)


@dataclasses.dataclass(frozen=True, slots=True, order=True)
class StandardCut:
    no: int
    kind: str = "piece"
    marks: tuple[int, ...] = dataclasses.field(default=(), repr=False)


def test_values_are_equal_hashed_ordered_and_shown_as_the_standard_ones_are() -> None:
    numbers = [(7, "piece"), (8, "piece"), (7, "scrap"), (7, "piece")]
    ours, theirs = [Cut(*n) for n in numbers], [StandardCut(*n) for n in numbers]
    for i in range(4):
        assert repr(ours[i]) == repr(theirs[i]).removeprefix("Standard")
        for k in range(4):
            assert (ours[i] == ours[k]) is (theirs[i] == theirs[k])
            assert (ours[i] < ours[k], ours[i] >= ours[k]) == (theirs[i] < theirs[k], theirs[i] >= theirs[k])
    assert len(set(ours)) == len(set(theirs)) == 3
    assert Cut(7) != (7, "piece", ())


def test_frozen_value_refuses_assignment_and_new_names() -> None:
    cut = Cut(7)
    for name in ("no", "colour"):
        with pytest.raises(AttributeError):
            setattr(cut, name, 8)
    with pytest.raises(AttributeError):
        del cut.no
    with pytest.raises(TypeError):
        hash(Run(1))


@pytest.mark.parametrize(("given", "named"), [((), {}), ((1, 2, 3, 4), {}), ((1,), {"no": 1}), ((1,), {"length": 2})])
def test_wrong_arguments_are_refused_also_for_the_first_instance(given: tuple[int, ...], named: dict[str, int]) -> None:
    @values.dataclass(frozen=True, slots=True)
    class Fresh:
        no: int
        kind: str = ""

    with pytest.raises(TypeError):
        Fresh(*given, **named)
    assert Fresh(3).no == 3


def test_first_and_later_instances_are_made_alike() -> None:
    """The first ones are set field by field, later ones by a compiled `__init__`."""

    @values.dataclass(frozen=True, slots=True)
    class Many:
        no: int
        kind: str = "piece"
        marks: list[int] = values.field(default_factory=list)

    made = [Many(n, marks=[n]) if n % 2 else Many(no=n) for n in range(300)]
    assert [m.no for m in made] == list(range(300))
    assert {m.kind for m in made} == {"piece"}
    assert [len(m.marks) for m in made] == [n % 2 for n in range(300)]
    assert made[0] == Many(0)
    assert made[0].marks is not made[2].marks
    for wrong in ({}, {"no": 1, "kinds": 2}):
        with pytest.raises(TypeError):
            Many(**wrong)
    with pytest.raises(AttributeError):
        made[299].no = 1  # type: ignore[misc]


def test_each_instance_has_a_list_of_its_own() -> None:
    first, second = Run(1), Run(2)
    first.cuts.append(Cut(1))
    assert (len(first.cuts), second.cuts) == (1, [])
    assert Run(1, [Cut(1)]) == first


def test_replace_copy_and_pickle_give_equal_values() -> None:
    cut = Cut(7, "sample", (1,))
    assert values.replace(cut, no=8) == Cut(8, "sample", (1,))
    assert pickle.loads(pickle.dumps(cut)) == copy.copy(cut) == copy.deepcopy(cut) == cut
    match cut:
        case Cut(7, kind):
            assert kind == "sample"
        case _:
            raise AssertionError


def test_post_init_and_fields_of_a_base_are_honoured() -> None:
    @values.dataclass(frozen=True, slots=True)
    class Band:
        low: int
        high: int

        def __post_init__(self) -> None:
            if self.low > self.high:
                raise ValueError("crossed")

    @values.dataclass(frozen=True, slots=True)
    class Named(Band):
        name: str = "all"

    assert repr(Named(1, 2)).endswith("Named(low=1, high=2, name='all')")
    with pytest.raises(ValueError, match="crossed"):
        Named(2, 1)


def test_making_value_classes_loads_no_inspection() -> None:
    code = "import heattrace.tracing.quality, sys; print([m for m in ('dataclasses', 'inspect') if m in sys.modules])"
    ran: Any = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"
