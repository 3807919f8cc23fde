"""Shape of a form: keys in tables, tables in a book. The field book itself is in ``tables``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from analyzer.acquire.kinds import Kind


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a table.

    ``example`` is the value as it stands in TOML. ``unknown``: the word "unknown" may stand for a
    value not known. ``field`` names the attribute of the record it fills, if not its own name.
    """

    name: str
    kind: Kind
    doc: str
    example: str
    required: bool = False
    unknown: bool = True
    field: str = ""

    @property
    def takes_unknown(self) -> bool:
        """Whether ``"unknown"`` is accepted and means that nothing is known."""
        return self.unknown and not self.required


@dataclass(frozen=True, slots=True)
class Table:
    """One table, or one kind of entry that may be repeated (``many``).

    ``label`` is the key that names an entry in messages and must be its own among its like.
    ``record`` is the class it fills. ``exactly_one`` and ``any_of`` are groups of keys of which
    one, or at least one, must be there; ``together`` are groups of which all or none must be.
    """

    name: str
    doc: str
    keys: tuple[Key, ...]
    record: type[Any] | None = None
    many: bool = False
    minimum: int = 0
    label: str = ""
    exactly_one: tuple[tuple[str, ...], ...] = ()
    any_of: tuple[tuple[str, ...], ...] = ()
    together: tuple[tuple[str, ...], ...] = ()
    tables: tuple[Table, ...] = ()

    @property
    def required(self) -> bool:
        """Whether the field book must have it."""
        return self.minimum > 0 or (not self.many and any(key.required for key in self.keys))

    @property
    def names(self) -> tuple[str, ...]:
        """Keys and inner tables, in order."""
        return tuple(key.name for key in self.keys) + tuple(table.name for table in self.tables)

    @property
    def noun(self) -> str:
        """Name of one entry in a sentence."""
        return self.name[:-1] if self.many and self.name.endswith("s") else self.name

    @property
    def heading(self) -> str:
        """How it is opened in TOML, for the outermost tables."""
        return f"[[{self.name}]]" if self.many else f"[{self.name}]"
