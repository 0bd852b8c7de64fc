"""Shows on a terminal how far long work has come; a script sees nothing of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TypeVar

from rich.console import Console
from rich.progress import track

Item = TypeVar("Item")


def each_shown(items: Iterable[Item], doing: str, total: int) -> Iterator[Item]:
    """The items one by one, with a bar on standard error while they are worked on."""
    console = Console(stderr=True)
    yield from track(
        items,
        doing,
        total,
        console=console,
        transient=True,
        disable=not console.is_terminal,
    )
