"""Cells that are no plain values, and what was found of a file as a whole."""

from dataclasses import dataclass, field
from enum import StrEnum


class Mark(StrEnum):
    """Why a cell is not what it seems."""

    FORMULA = "formula"
    ERROR = "error"
    MERGED = "merged"
    LONG = "long"


@dataclass(frozen=True, kw_only=True)
class MarkedCell:
    """A cell by its row and column from 0, and its mark."""

    row: int
    column: int
    mark: Mark


@dataclass(frozen=True, kw_only=True)
class FileFacts:
    """What a file was taken for; empty where a form has no such thing."""

    form: str
    encoding: str = ""
    divider: str = ""
    sheet: str = ""
    sheets: list[str] = field(default_factory=list)
