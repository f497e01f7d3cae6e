"""The menu of what can be done with the selection."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QMenu

from . import arrange
from .numbers_plate import open_plate
from .words import angle_text, tr

if TYPE_CHECKING:
    from .view import BenchView


def menu_of(view: BenchView) -> QMenu:
    """Return the menu of what can be done with the selection."""
    menu = QMenu(view)
    fill(menu, view)
    return menu


def fill(menu: QMenu, view: BenchView) -> None:
    """Put into a menu what can be done with the selection now."""
    document = view.document
    keys = document.selection
    some, two, three = bool(keys), len(keys) >= 2, len(keys) >= 3
    locked = some and all(p.locked for p in document.placements(keys))

    def add(words: str, do: Any, enabled: bool = True) -> None:
        action = menu.addAction(words)
        action.triggered.connect(lambda: do())
        action.setEnabled(enabled)

    step = view.turn_step
    words = tr("Turn left {angle}\tR").format(angle=angle_text(step))
    add(words, lambda: document.turn_by(keys, step), some)
    add(tr("Turn left a quarter"), lambda: document.turn_by(keys, 90), some)
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
        (arrange.Edge.MIDDLE_X, tr("Align middles across")),
        (arrange.Edge.MIDDLE_Y, tr("Align middles up")),
    ):
        add(words, lambda e=edge: document.align(keys, e), two)
    add(tr("Distribute across"), lambda: document.distribute(keys, True), three)
    add(tr("Distribute up"), lambda: document.distribute(keys, False), three)
    add(tr("Swap places"), lambda: document.swap(keys), len(keys) == 2)
    menu.addSeparator()
    add(tr("Duplicate\tCtrl+D"), view.duplicate, some)
    add(tr("Settle where there is room\tS"), view.keys.settle, some)
    add(tr("Numbers…\tReturn"), lambda: open_plate(view), some)
    blanks = len(document.job.layout.blanks)
    if some and blanks > 1:
        to = menu.addMenu(tr("Move to blank"))
        for blank in range(min(blanks, 40)):
            action = to.addAction(str(blank + 1))
            action.triggered.connect(lambda _=False, b=blank: view.keys.to_blank(b))
    action = menu.addAction(tr("Line edges up while dragging\tG"))
    action.setCheckable(True)
    action.setChecked(view.lines_up)
    action.toggled.connect(view.set_lines_up)
    menu.addSeparator()
    current = document.current
    if current is not None:
        holes = len(document.job.part(current[0]).outline.holes)
        if holes:
            words = tr("Fill its holes from the tray")
            add(words, lambda: view.fill_holes(current), bool(document.tray()))
        here = document.placement(current)
        if here is not None:
            words = tr("Take blank {number} off the bench").format(
                number=here.blank + 1
            )
            add(words, lambda: document.remove_blank(here.blank))
        add(tr("Select all copies"), lambda: document.select_part(current[0]))
        add(tr("Want one more"), lambda: document.want_more(current[0]))
