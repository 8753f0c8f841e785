"""Where each value of a TOML file stands in its text (TOML 1.0.0, toml.io)."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}'
    r"|'''.*?'{3,5}"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_PLAIN = re.compile(r"[^\s,\]}#]+(?: \d\d:[^\s,\]}#]+)?")  # a date's time may follow a space

At = tuple[str | int, ...]


@dataclass(frozen=True)
class Span:
    """From where to where a value stands; `inline` where that is within a table in braces."""

    start: int
    end: int
    inline: bool


@dataclass
class Positions:
    """The values by their ways of keys and indices; where the last table of a name ends.

    A table's end is that of its last value, or of its heading, what belongs to it included.
    """

    values: dict[At, Span] = field(default_factory=dict)
    ends: dict[str, int] = field(default_factory=dict)


def positions(text: str) -> Positions:
    """Where everything stands in a text that TOML's reader takes.

    >>> found = positions('[a]\\nb = [1, {c = "x"}]  # d\\n')
    >>> found.values["a", "b", 1, "c"]
    Span(start=17, end=20, inline=True)
    >>> found.ends
    {'a': 22}
    """
    return _Walk(text).made


class _Walk:
    """From the text's start to its end."""

    def __init__(self, text: str) -> None:
        self.text, self.at = text, 0
        self.made = Positions()
        self.many: dict[At, int] = {}  # tables there are so far of an array of them
        table: At = ()
        self._skip()
        while self.at < len(text):
            if text[self.at] == "[":
                table = self._heading()
            else:
                self._pair(table, inline=False)
            if table:
                self.made.ends[str(table[0])] = self.at
            self._skip()

    def _skip(self) -> None:
        found = _BLANK.match(self.text, self.at)
        assert found is not None
        self.at = found.end()

    def _take(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self.text, self.at)
        if found is None:
            raise ValueError("its keys are written in an unusual way")
        self.at = found.end()
        return found[0]

    def _heading(self) -> At:
        """A heading's way, the last table so far for each array of them."""
        more = self.text.startswith("[[", self.at)
        self.at += 1 + more
        keys = self._keys()
        self.at += 1 + more
        way: At = ()
        for index, key in enumerate(keys):
            way = (*way, key)
            if more and index == len(keys) - 1:
                self.many[way] = self.many.get(way, 0) + 1
            if way in self.many:
                way = (*way, self.many[way] - 1)
        return way

    def _keys(self) -> list[str]:
        """A key, dotted or not, and the spaces about it."""
        keys = []
        while True:
            self._skip()
            if self.text[self.at] in "\"'":
                quoted = self._take(_STRING)
                keys.append(tomllib.loads(f"key = {quoted}")["key"])
            else:
                keys.append(self._take(_BARE_KEY))
            self._skip()
            if self.text[self.at] != ".":
                return keys
            self.at += 1

    def _pair(self, table: At, *, inline: bool) -> None:
        keys = self._keys()
        self.at += 1  # the equals sign
        self._skip()
        self._value((*table, *keys), inline=inline)

    def _value(self, way: At, *, inline: bool) -> None:
        start, first = self.at, self.text[self.at]
        if first == "[":
            self._listed("]", way)
        elif first == "{":
            self._listed("}", way)
        else:
            self._take(_STRING if first in "\"'" else _PLAIN)
        self.made.values[way] = Span(start, self.at, inline)

    def _listed(self, end: str, way: At) -> None:
        """What stands between brackets or braces."""
        self.at += 1
        self._skip()
        index = 0
        while self.text[self.at] != end:
            if end == "}":
                self._pair(way, inline=True)
            else:
                self._value((*way, index), inline=False)
            index += 1
            self._skip()
            if self.text[self.at] == ",":
                self.at += 1
                self._skip()
        self.at += 1
