"""The menu of what can be done with the selection."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QMenu

from . import arrange
from .words import tr

if TYPE_CHECKING:
    from .view import BenchView


def menu_of(view: BenchView) -> QMenu:
    """Return the menu of what can be done with the selection."""
    document = view.document
    menu = QMenu(view)
    keys = document.selection
    some, two, three = bool(keys), len(keys) >= 2, len(keys) >= 3
    locked = some and all(p.locked for p in document.placements(keys))

    def add(words: str, do: Any, enabled: bool = True) -> None:
        action = menu.addAction(words)
        action.triggered.connect(lambda: do())
        action.setEnabled(enabled)

    add(tr("Turn left\tR"), lambda: document.turn_by(keys, 90), some)
    add(tr("Flip\tF"), lambda: document.flip(keys), some)
    words = tr("Unlock\tL") if locked else tr("Lock\tL")
    add(words, lambda: document.set_locked(keys, not locked), some)
    add(tr("Put in the tray\tDel"), lambda: document.to_tray(keys), some)
    menu.addSeparator()
    for edge, words in (
        (arrange.Edge.LEFT, tr("Align left edges")),
        (arrange.Edge.RIGHT, tr("Align right edges")),
        (arrange.Edge.BOTTOM, tr("Align lower edges")),
        (arrange.Edge.TOP, tr("Align upper edges")),
    ):
        add(words, lambda e=edge: document.align(keys, e), two)
    add(tr("Distribute across"), lambda: document.distribute(keys, True), three)
    add(tr("Distribute up"), lambda: document.distribute(keys, False), three)
    add(tr("Swap places"), lambda: document.swap(keys), len(keys) == 2)
    menu.addSeparator()
    add(tr("Duplicate\tCtrl+D"), view.duplicate, some)
    current = document.current
    if current is not None:
        add(tr("Select all copies"), lambda: document.select_part(current[0]))
        add(tr("Want one more"), lambda: document.want_more(current[0]))
    return menu
