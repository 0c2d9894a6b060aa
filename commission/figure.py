"""Numbers that can say why: a value, its unit and where it came from.

One mechanism serves the 'why' panel, the command line's ``--why``, the derivations in the record and the
calculator: a formula is called with figures and the figure it returns remembers the call.
"""

from __future__ import annotations

import functools
import inspect
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import Final, Generic, Literal, ParamSpec, TypeAlias, cast

from commission.errors import FormulaError
from commission.units import plain

P = ParamSpec("P")

LeafKind: TypeAlias = Literal["site", "profile", "rules", "reading", "setting", "told", "rule"]
"""Where a figure that nothing was computed from stands: a file of the site, a profile, a rule set, a reading
of this visit, a setting as left, what the battery told, or a rule of the program (with its source)."""


@dataclass(frozen=True, slots=True)
class Leaf:
    """A value that was given, not computed."""

    kind: LeafKind
    where: str
    """Key in its file, or the step of a reading."""
    source: str = ""
    """Who says so: a standard with clause, a profile's own source, a time; empty for the site's own word."""


@dataclass(frozen=True, slots=True)
class Derived:
    """A value that a formula returned, with the figures it was called with."""

    formula: str
    expression: str
    source: str
    inputs: tuple[tuple[str, Figure | tuple[Figure, ...] | float | str], ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """The least or greatest of named candidates; all of them are kept."""

    rule: Literal["least", "greatest"]
    candidates: tuple[Figure, ...]

    def ordered(self) -> tuple[Figure, ...]:
        """Return the candidates, the binding one first."""
        sign = 1.0 if self.rule == "least" else -1.0
        return tuple(sorted(self.candidates, key=lambda figure: sign * figure.value))


Origin: TypeAlias = Leaf | Derived | Choice


@dataclass(frozen=True, slots=True)
class Figure:
    """A value with its unit, its name and its lineage."""

    value: float
    unit: str
    name: str
    origin: Origin
    note: str = ""
    """What a person should know beside the number, such as which policy was applied."""

    def named(self, name: str, note: str = "") -> Figure:
        """Return the same figure under another name."""
        return Figure(self.value, self.unit, name, self.origin, note or self.note)

    def in_unit(self, unit: str) -> Figure:
        """Return the same figure under another unit sign: a formula on plain numbers knows none."""
        return self if unit == self.unit else Figure(self.value, unit, self.name, self.origin, self.note)

    def binding(self) -> Figure:
        """Return the figure that decided: of a choice the candidate that binds, else the figure itself."""
        if isinstance(self.origin, Choice):
            return self.origin.ordered()[0].binding()
        return self


class Gap(str):
    """Something that is not known, as a person would name it, and where it could be stated.

    It is text, so that it stands wherever the name alone would do.
    """

    __slots__ = ("helps", "key")
    key: str
    """Key of the site file that tells it; empty where no key does."""
    helps: str
    """What would help where no key tells it."""

    def __new__(cls, name: str, key: str = "", helps: str = "") -> Gap:
        """Return a name with its key, or with what would help."""
        made = super().__new__(cls, name)
        made.key, made.helps = key, helps
        return made


@dataclass(frozen=True, slots=True)
class Unknown:
    """A number that cannot be had because something that it needs is not known."""

    missing: tuple[str, ...]
    """What is not known, each as a person would name it: 'length of run-b2'; a :class:`Gap` tells its key."""
    unit: str = ""
    name: str = ""

    def named(self, name: str, note: str = "") -> Unknown:
        """Return the same gap under another name."""
        return replace(self, name=name)

    def in_unit(self, unit: str) -> Unknown:
        """Return the same gap under another unit sign."""
        return replace(self, unit=unit)


Quantity: TypeAlias = Figure | Unknown
Argument: TypeAlias = Figure | Unknown | Sequence[Figure | Unknown] | float | str


@dataclass(frozen=True, slots=True)
class Band:
    """What a reading should be: either limit may be absent, none of the three is a bare number."""

    low: Figure | None
    nominal: Figure | None
    high: Figure | None
    unit: str
    stop_below: Figure | None = None
    """At or under this the reading stops work by itself."""
    stop_above: Figure | None = None
    """At or over this the reading stops work by itself."""


class Formula(Generic[P]):
    """A registered equation of the trade: a plain function of floats that can also be called for lineage."""

    def __init__(self, function: Callable[P, float], expression: str, unit: str, source: str) -> None:
        functools.update_wrapper(self, function)
        self.name = function.__name__
        self.function = function
        self._bare = cast("Callable[..., float]", function)
        self.expression = expression
        self.unit = unit
        self.source = source

    @functools.cached_property
    def title(self) -> str:
        """First line of the docstring: what the formula is called."""
        return (inspect.getdoc(self.function) or self.name).splitlines()[0].rstrip(".")

    @functools.cached_property
    def parameters(self) -> tuple[str, ...]:
        """Names of the inputs."""
        return tuple(inspect.signature(self.function).parameters)

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> float:
        """Compute with bare floats."""
        return self.function(*args, **kwargs)

    def of(self, name: str = "", /, **arguments: Argument) -> Quantity:
        """Compute with figures and return a figure that remembers them.

        Parameters
        ----------
        name
            What the result is here; the formula's title where empty.
        arguments
            The formula's parameters, each a figure, several figures, or a bare number or word that needs no
            lineage (a count).

        Returns
        -------
        Quantity
            A figure, or Unknown naming everything that is missing, or why the formula does not hold here.
        """
        called = name or self.title
        bare, kept, gaps = _taken_apart(arguments)
        if gaps:
            return Unknown(tuple(gaps), self.unit, called)
        try:
            value = self._bare(**bare)
        except FormulaError as error:
            told = ", ".join(key for key in site_keys(*_figures(tuple(kept))) if "." in key)
            helps = f"look at {told}" if told else ""
            return Unknown((Gap(f"{called} ({_shortened(str(error))})", helps=helps),), self.unit, called)
        return Figure(value, self.unit, called, Derived(self.name, self.expression, self.source, tuple(kept)))


_LONG_NUMBER: Final = re.compile(r"\d+\.\d{4,}")


def _shortened(text: str) -> str:
    """Return a text with its long decimals in four digits, as a person would write them."""
    return _LONG_NUMBER.sub(lambda found: f"{float(found[0]):.4g}", text)


_Kept: TypeAlias = "tuple[str, Figure | tuple[Figure, ...] | float | str]"


def _taken_apart(
    arguments: Mapping[str, Argument],
) -> tuple[dict[str, object], list[_Kept], dict[str, None]]:
    """Return arguments as bare numbers, as what is remembered, and everything that is missing.

    In one pass, since a sheet calls thousands of formulas.
    """
    bare: dict[str, object] = {}
    kept: list[_Kept] = []
    gaps: dict[str, None] = {}
    for key, argument in arguments.items():
        if isinstance(argument, Figure):
            bare[key] = argument.value
            kept.append((key, argument))
        elif isinstance(argument, (float, int, str)):
            bare[key] = argument
            kept.append((key, argument))
        elif isinstance(argument, Unknown):
            gaps.update(dict.fromkeys(argument.missing))
        else:
            figures = tuple([item for item in argument if isinstance(item, Figure)])
            kept.append((key, figures))
            bare[key] = [item.value for item in figures]
            if len(figures) < len(argument):
                gaps.update(_gaps(item for item in argument if isinstance(item, Unknown)))
    return bare, kept, gaps


def _gaps(unknowns: Iterable[Unknown]) -> dict[str, None]:
    return dict.fromkeys(gap for item in unknowns for gap in item.missing)


REGISTRY: Final[dict[str, Formula[...]]] = {}
"""Every formula by its name; filled when the modules of ``commission.formulas`` are imported."""


def formula(*, expression: str, unit: str, source: str) -> Callable[[Callable[P, float]], Formula[P]]:
    """Register a function of floats as a formula of the trade.

    Parameters
    ----------
    expression
        The equation written out with the parameters' names: ``cells × (reference + slope × (T − T_ref))``.
    unit
        Unit of the result; ``1`` for a bare ratio.
    source
        Standard, handbook or rule with clause; ``common practice`` or ``from memory`` where that is so.
    """

    def register(function: Callable[P, float]) -> Formula[P]:
        made = Formula(function, expression, unit, source)
        if REGISTRY.get(made.name, made).function.__module__ != function.__module__:
            raise FormulaError(f"two formulas are called {made.name}")
        REGISTRY[made.name] = made
        return made

    return register


def given(
    value: float, unit: str, name: str, *, kind: LeafKind = "rule", where: str = "", source: str = ""
) -> Figure:
    """Return a figure for a value that was given and not computed."""
    return Figure(value, unit, name, Leaf(kind, where or name, source))


def least(name: str, *candidates: Quantity) -> Quantity:
    """Return the least candidate as a figure that keeps them all; unknown if any of them is."""
    return _chosen("least", name, candidates)


def greatest(name: str, *candidates: Quantity) -> Quantity:
    """Return the greatest candidate as a figure that keeps them all; unknown if any of them is."""
    return _chosen("greatest", name, candidates)


def _chosen(rule: Literal["least", "greatest"], name: str, candidates: Sequence[Quantity]) -> Quantity:
    if not candidates:
        raise FormulaError(f"{name}: nothing to choose from")
    figures = tuple([item for item in candidates if isinstance(item, Figure)])
    if len(figures) < len(candidates):
        gaps = _gaps(item for item in candidates if isinstance(item, Unknown))
        return Unknown(tuple(gaps), candidates[0].unit, name)
    choose = min if rule == "least" else max
    first = choose(figures, key=_value_of)
    return Figure(first.value, first.unit, name, Choice(rule, figures))


_value_of: Final[Callable[[Figure], float]] = attrgetter("value")


def site_keys(*figures: Figure) -> tuple[str, ...]:
    """Return the keys of the site file that figures rest on, each once."""
    found: dict[str, None] = {}
    for figure in figures:
        origin = figure.origin
        if isinstance(origin, Derived):
            found.update(dict.fromkeys(site_keys(*_figures(origin.inputs))))
        elif isinstance(origin, Choice):
            found.update(dict.fromkeys(site_keys(*origin.candidates)))
        elif origin.kind == "site":
            found[origin.where] = None
    return tuple(found)


@dataclass(frozen=True, slots=True)
class WhyLine:
    """One line of an answer to 'why', with its depth in the chain."""

    depth: int
    value: float | None
    unit: str
    text: str
    """What the number is."""
    source: str
    because: str = ""
    """How it came about: the expression, or which of several was taken; empty for what was given."""


def why(quantity: Quantity, deepest: int = 12) -> Iterator[WhyLine]:
    """Yield the lineage of a quantity from the result down to what was given."""
    if isinstance(quantity, Unknown):
        yield WhyLine(0, None, quantity.unit, f"{quantity.name or 'this'}: not known", "")
        for gap in quantity.missing:
            yield WhyLine(1, None, "", f"needs {gap}", "")
        return
    yield from _lines(quantity, 0, deepest)


def _lines(figure: Figure, depth: int, deepest: int) -> Iterator[WhyLine]:
    origin = figure.origin
    beside = f" ({figure.note})" if figure.note else ""
    if isinstance(origin, Leaf):
        where = "" if origin.where == figure.name else f"{_KIND[origin.kind]} {origin.where}".strip()
        source = "; ".join(part for part in (where, origin.source) if part)
        yield WhyLine(depth, figure.value, figure.unit, figure.name + beside, source)
        return
    if isinstance(origin, Choice):
        because = f"the {origin.rule} of these; the first binds"
        yield WhyLine(depth, figure.value, figure.unit, figure.name + beside, "", because)
        children = origin.ordered()
    else:
        yield WhyLine(
            depth, figure.value, figure.unit, figure.name + beside, origin.source, origin.expression
        )
        children = tuple(_figures(origin.inputs))
    if depth < deepest:
        for child in children:
            yield from _lines(child, depth + 1, deepest)


def _figures(inputs: tuple[tuple[str, Figure | tuple[Figure, ...] | float | str], ...]) -> Iterator[Figure]:
    for name, value in inputs:
        if isinstance(value, Figure):
            yield value
        elif isinstance(value, tuple):
            yield from value
        elif isinstance(value, float | int):
            yield given(float(value), "", name.replace("_", " "))


_KIND: Final[dict[LeafKind, str]] = {
    "site": "site file:",
    "profile": "profile:",
    "rules": "rule set:",
    "reading": "your reading:",
    "setting": "setting:",
    "told": "told by the battery:",
    "rule": "",
}


def line_text(line: WhyLine) -> str:
    """Return one line of a lineage as text, indented by its depth."""
    number = (
        "" if line.value is None else f"{plain(line.value)} {line.unit}".removesuffix(" 1").strip() + "  "
    )
    because = f" = {line.because}" if line.because else ""
    source = f"  [{line.source}]" if line.source else ""
    return f"{'  ' * line.depth}{number}{line.text}{because}{source}"
