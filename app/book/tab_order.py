"""Tab goes through a page as it is read: by its layouts, from the top left."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFormLayout, QLayout, QScrollArea, QSplitter, QWidget


def order_tabs(page: QWidget | None) -> None:
    """Give everything on a page that takes keys its place in Tab's order."""
    last: QWidget | None = None
    for widget in _in_order(page) if page is not None else ():
        if last is not None:
            QWidget.setTabOrder(last, widget)
        last = widget


def _in_order(widget: QWidget) -> Iterator[QWidget]:
    if widget.focusProxy() is None:
        if widget.focusPolicy() != Qt.FocusPolicy.NoFocus:
            yield widget
    if isinstance(widget, QScrollArea):
        inner = widget.widget()
        if inner is not None:
            yield from _in_order(inner)
        return
    if isinstance(widget, QSplitter):
        for number in range(widget.count()):
            inside = widget.widget(number)
            if inside is not None:
                yield from _in_order(inside)
        return
    layout = widget.layout()
    if layout is not None:
        yield from _of_layout(layout)


def _of_layout(layout: QLayout) -> Iterator[QWidget]:
    if isinstance(layout, QFormLayout):
        roles = QFormLayout.ItemRole
        items = [
            layout.itemAt(row, role)
            for row in range(layout.rowCount())
            for role in (roles.SpanningRole, roles.LabelRole, roles.FieldRole)
        ]
    else:
        items = [layout.itemAt(number) for number in range(layout.count())]
    for item in items:
        if item is None:
            continue
        widget, inner = item.widget(), item.layout()
        if widget is not None:
            yield from _in_order(widget)
        elif inner is not None:
            yield from _of_layout(inner)
