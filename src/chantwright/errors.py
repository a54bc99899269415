"""The one kind of error a chanter ever sees: what is wrong, where, and what to do."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["ChantError", "Where"]


@dataclass(frozen=True, slots=True)
class Where:
    """A place in a text the chanter wrote.

    Attributes
    ----------
    file : str
        File name as the chanter gave it; empty when the text came from elsewhere.
    line, column : int
        Counted from 1; 0 when unknown.
    word : str
        The offending word, as written.
    """

    file: str = ""
    line: int = 0
    column: int = 0
    word: str = ""

    def __str__(self) -> str:
        parts: list[str] = []
        if self.file:
            parts.append(self.file)
        if self.line:
            parts.append(f"line {self.line}")
        if self.column:
            parts.append(f"column {self.column}")
        if self.word:
            parts.append(f"at “{self.word}”")
        return ", ".join(parts)


class ChantError(ValueError):
    """Something the chanter can mend.

    Parameters
    ----------
    what : str
        One sentence in the trade's words, saying what is wrong.
    where : Where, optional
        File, line, column and word.
    remedy : str, optional
        What to do about it.
    """

    def __init__(self, what: str, *, where: Where | None = None, remedy: str = "") -> None:
        self.what = what
        self.where = where or Where()
        self.remedy = remedy
        super().__init__(what)

    def __str__(self) -> str:
        place = str(self.where)
        text = f"{place}: {self.what}" if place else self.what
        return f"{text} {self.remedy}" if self.remedy else text
