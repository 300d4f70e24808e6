"""Value classes: the standard library's `dataclass`, `field` and `replace` for slotted classes, at a tenth of the cost.

A reading command makes some seventy of these classes at start. The standard decorator compiles six methods for each and
loads `inspect`, which takes half of the time such a command may take; here a class is made without compiling anything,
and its `__init__` is compiled once so many instances were made that it pays. What is not needed here is not offered.
"""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from typing import Any, TypeVar, dataclass_transform

T = TypeVar("T")

_NOTHING: Any = object()
_OWN = ("__dict__", "__weakref__")
# Compiling an `__init__` takes as long as setting the fields of about so many instances one by one.
_PAYS = 60


class _Field:
    """What `field` says of one field."""

    __slots__ = ("default", "default_factory", "repr")

    def __init__(self, default: Any, default_factory: Any, shown: bool) -> None:
        self.default, self.default_factory, self.repr = default, default_factory, shown


def field(*, default: Any = _NOTHING, default_factory: Callable[[], Any] = _NOTHING, repr: bool = True) -> Any:
    """A field with a default, or a default made anew for each instance; `repr` False leaves it out of the repr."""
    return _Field(default, default_factory, repr)


@dataclass_transform(field_specifiers=(field,))
def dataclass(*, frozen: bool = False, slots: bool = False, order: bool = False) -> Callable[[type[T]], type[T]]:
    """Make a class with `__slots__` out of its annotated names; `frozen` instances refuse assignment and can be hashed.

    Slots are made in any case; the parameter stands so that the line reads as the standard one does.

    >>> @dataclass(frozen=True, slots=True, order=True)
    ... class Cut:
    ...     no: int
    ...     kind: str = "piece"
    >>> Cut(7), Cut(7) == Cut(7, "piece"), Cut(7) < Cut(8), len({Cut(7), Cut(7)})
    (Cut(no=7, kind='piece'), True, True, 1)
    >>> replace(Cut(7), kind="sample").kind
    'sample'
    """

    def make(cls: type[T]) -> type[T]:
        return _made(cls, frozen, order)

    return make


def replace(value: T, /, **changes: Any) -> T:
    """The same value with some fields changed."""
    kept = {name: getattr(value, name) for name in type(value).__match_args__ if name not in changes}  # type: ignore[attr-defined]
    return type(value)(**kept, **changes)


def _made(cls: type[T], frozen: bool, order: bool) -> type[T]:
    inherited = {name: d for base in reversed(cls.__mro__[1:]) for name, d in getattr(base, "_fields_", {}).items()}
    body = {name: value for name, value in cls.__dict__.items() if name not in _OWN}
    own = {
        name: body.pop(name, _NOTHING)
        for name, said in body.get("__annotations__", {}).items()
        if not str(said).startswith("ClassVar")
    }
    fields = {**inherited, **own}
    names = tuple(fields)
    values: Callable[[Any], Any] = attrgetter(*names) if names else lambda _: ()
    body["__slots__"] = tuple(name for name in own if name not in inherited)
    body["_fields_"] = fields
    body["__match_args__"] = names
    body.setdefault("__repr__", _repr)
    body.setdefault("__reduce__", _reduce)
    if "__eq__" not in body:
        body["__eq__"] = lambda self, other: (
            values(self) == values(other) if other.__class__ is self.__class__ else NotImplemented
        )
    if frozen:
        body.setdefault("__hash__", lambda self: hash(values(self)))
        body.update(__setattr__=_refuse, __delattr__=_refuse)
    else:
        body.setdefault("__hash__", None)
    if order:
        body.update(_ordering(values))
    kind: Any = type(cls)
    made: Any = kind(cls.__name__, cls.__bases__, body)
    made.__qualname__ = cls.__qualname__
    if "__init__" not in body:
        made.__init__ = _first_init(made)
    return made  # type: ignore[no-any-return]


def _first_init(made: Any) -> Callable[..., None]:
    """An `__init__` that sets the fields one by one, and after some instances puts a compiled one in its own place."""
    left = _PAYS
    fields: list[tuple[str, Callable[[Any, Any], None], Any]] = []

    def __init__(self: Any, *args: Any, **named: Any) -> None:  # noqa: N807
        nonlocal left
        if not fields:
            fields.extend((name, getattr(made, name).__set__, said) for name, said in made._fields_.items())
        left -= 1
        if left < 0 or not _set_each(self, fields, args, named):
            # Also where the arguments are wrong: the compiled one says how.
            made.__init__ = _compiled(made)
            made.__init__(self, *args, **named)
        elif hasattr(made, "__post_init__"):
            self.__post_init__()

    return __init__


def _set_each(
    self: Any, fields: list[tuple[str, Callable[[Any, Any], None], Any]], args: tuple[Any, ...], named: dict[str, Any]
) -> bool:
    """Set every field from what was given or its default; False where too much, too little or the same was given."""
    used = 0
    for place, (name, put, said) in enumerate(fields):
        if place < len(args):
            value = args[place]
        elif name in named:
            value, used = named[name], used + 1
        elif isinstance(said, _Field):
            value = said.default if said.default_factory is _NOTHING else said.default_factory()
        else:
            value = said
        if value is _NOTHING:
            return False
        put(self, value)
    return used == len(named) and len(args) <= len(fields)


def _compiled(made: Any) -> Callable[..., None]:
    fields: dict[str, Any] = made._fields_
    known: dict[str, Any] = {"_NOTHING": _NOTHING}
    given, lines = [], []
    for name, said in fields.items():
        known[f"_set_{name}"] = getattr(made, name).__set__
        default = said.default if isinstance(said, _Field) else said
        factory = said.default_factory if isinstance(said, _Field) else _NOTHING
        value = name
        if factory is not _NOTHING:
            known[f"_make_{name}"] = factory
            given.append(f"{name}=_NOTHING")
            value = f"_make_{name}() if {name} is _NOTHING else {name}"
        elif default is not _NOTHING:
            known[f"_default_{name}"] = default
            given.append(f"{name}=_default_{name}")
        else:
            given.append(name)
        lines.append(f"    _set_{name}(self, {value})")
    if hasattr(made, "__post_init__"):
        lines.append("    self.__post_init__()")
    text = f"def __init__({', '.join(['self', *given])}):\n" + "\n".join(lines or ["    pass"])
    exec(compile(text, f"<{made.__qualname__}>", "exec"), known)
    init: Callable[..., None] = known["__init__"]
    init.__qualname__ = f"{made.__qualname__}.__init__"
    return init


def _repr(self: Any) -> str:
    fields: dict[str, Any] = type(self)._fields_
    shown = (n for n, said in fields.items() if not isinstance(said, _Field) or said.repr)
    return f"{type(self).__qualname__}({', '.join(f'{name}={getattr(self, name)!r}' for name in shown)})"


def _reduce(self: Any) -> tuple[Any, ...]:
    return type(self), tuple(getattr(self, name) for name in type(self).__match_args__)


def _refuse(self: Any, name: str, *_: Any) -> None:
    raise AttributeError(f"{type(self).__qualname__}.{name}: a value is never changed")


def _ordering(values: Callable[[Any], Any]) -> dict[str, Callable[[Any, Any], Any]]:
    def same(self: Any, other: Any) -> bool:
        return other.__class__ is self.__class__

    return {
        "__lt__": lambda a, b: values(a) < values(b) if same(a, b) else NotImplemented,
        "__le__": lambda a, b: values(a) <= values(b) if same(a, b) else NotImplemented,
        "__gt__": lambda a, b: values(a) > values(b) if same(a, b) else NotImplemented,
        "__ge__": lambda a, b: values(a) >= values(b) if same(a, b) else NotImplemented,
    }
