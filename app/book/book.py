"""The job book: its five pages."""

from __future__ import annotations

from PySide6.QtWidgets import QFormLayout, QTabWidget, QWidget

from ..window.document import Document
from ..window.look import level_labels
from .cutting_page import CuttingPage
from .hand_over_page import HandOverPage
from .importing import SAMPLE
from .parts_page import PartsPage
from .rack_keeper import RackKeeper
from .shop import Shop
from .stock_page import StockPage
from .tab_order import order_tabs
from .whatif_page import WhatIfPage


class JobBook(QTabWidget):
    """The order, the stock, the cutting set-up and handing over."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.parts = PartsPage(document, SAMPLE.exists(), self)
        self.shop = Shop(None, self)
        self.shop.failed.connect(lambda words: document.say("error", words))
        self.rack = RackKeeper(None, self)
        self.stock = StockPage(document, self.shop, self.rack, self)
        self.cutting = CuttingPage(document, self.shop, self)
        self.hand_over = HandOverPage(document, self.shop, self)
        self.addTab(self.parts, self.tr("Parts"))
        self.addTab(self.stock, self.tr("Stock"))
        self.addTab(self.cutting, self.tr("Cutting"))
        self.what_if = WhatIfPage(document, self.shop, self)
        self.addTab(self.hand_over, self.tr("Hand over"))
        self.addTab(self.what_if, self.tr("What if"))
        for number in range(self.count()):
            order_tabs(self.widget(number))
        for form in self.findChildren(QFormLayout):
            level_labels(form)
        self.setDocumentMode(True)
        self.setAccessibleName(self.tr("Job book"))
        self.tabBar().setAccessibleName(self.tr("Pages of the job book"))

    def shut_down(self) -> None:
        """End what runs, and wait until the shop's set-up is written."""
        self.stock.close_down()
        self.cutting.close_down()
        self.hand_over.close_down()
        self.what_if.close_down()
        self.rack.close()
        self.shop.close()
