"""The help of every window: the manual's pages, searched and read without a network (F1)."""

from __future__ import annotations

from typing import Final

from PyQt6.QtCore import QEvent, QObject, Qt
from PyQt6.QtGui import QKeyEvent, QKeySequence, QShortcut, QTextCursor, QTextDocument
from PyQt6.QtWidgets import (
    QHBoxLayout,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from feedback.help import TOPICS, matching, page
from feedback.screens.widgets import palette
from feedback.screens.widgets.design import BODY_PX, GAP_PX, HAIR_PX, PAD_PX, ROOM_PX
from feedback.screens.widgets.style import label, named, style
from feedback.terminal.program_name import as_called
from shared.language import _

KEY: Final = "F1"
_FIRST_PX: Final = (1000, 700)
_LIST_PX: Final = 320


class HelpWindow(QWidget):
    """Topics at the left, one page at the right. It belongs to the window it was opened from.

    What stops in that window stops here too, as the keys of the one are looked at for the other.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self.setWindowTitle(_("Beltside: help"))
        self.setObjectName("ground")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setStyleSheet(style() + _more())
        self.resize(*_FIRST_PX)
        self.search = QLineEdit()
        self.search.setPlaceholderText(_("Search all pages"))
        self.search.setClearButtonEnabled(True)
        named(self.search, _("Search all pages"))
        self.topics = QListWidget()
        named(self.topics, _("Topics"))
        self.topics.setWordWrap(True)
        self.topics.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.none = label(_("No page has all of these words."), "label", wrap=True)
        self.text = QTextBrowser()
        self.text.setOpenExternalLinks(False)
        self.text.setOpenLinks(False)
        named(self.text, _("Page"))
        left = QVBoxLayout()
        left.setSpacing(PAD_PX)
        for part in (self.search, self.none, self.topics):
            part.setFixedWidth(_LIST_PX)
            left.addWidget(part)
        whole = QHBoxLayout(self)
        whole.setContentsMargins(PAD_PX, PAD_PX, PAD_PX, PAD_PX)
        whole.setSpacing(ROOM_PX)
        whole.addLayout(left)
        whole.addWidget(self.text, 1)
        self.search.textChanged.connect(self._on_search)
        self.topics.currentItemChanged.connect(self._on_topic)
        self._on_search("")
        if parent is not None:
            parent.installEventFilter(self)

    def eventFilter(self, watched: QObject | None, event: QEvent | None) -> bool:  # noqa: N802
        """Close with the window that it belongs to."""
        if event is None or watched is not self.parent():
            return False
        if event.type() is QEvent.Type.Hide and not event.spontaneous():
            self.close()
        return False

    def open(self, topic: str) -> None:
        """Show that page, in front."""
        # A page that is laid out before the style is in force keeps smaller letters for commands.
        self.text.ensurePolished()
        self.search.clear()
        for row in range(self.topics.count()):
            item = self.topics.item(row)
            if item is not None and item.data(Qt.ItemDataRole.UserRole) == topic:
                self.topics.setCurrentRow(row)
        self.show()
        self.raise_()
        self.activateWindow()
        self.text.setFocus()

    @property
    def topic(self) -> str:
        """The page that is shown; empty for none."""
        item = self.topics.currentItem()
        return "" if item is None else str(item.data(Qt.ItemDataRole.UserRole))

    def _on_search(self, words: str) -> None:
        kept = self.topic
        found = matching(words)
        self.topics.blockSignals(True)
        self.topics.clear()
        for topic in found:
            item = QListWidgetItem(page(topic).title)
            item.setData(Qt.ItemDataRole.UserRole, topic)
            self.topics.addItem(item)
        self.topics.blockSignals(False)
        self.none.setVisible(not found)
        if found:
            stays = not words.split() and kept in found
            self.topics.setCurrentRow(found.index(kept) if stays else 0)

    def _on_topic(self, item: QListWidgetItem | None) -> None:
        if item is None:
            return
        text = page(str(item.data(Qt.ItemDataRole.UserRole))).text
        self.text.setMarkdown(as_called(text))
        document = self.text.document()
        if document is not None:
            _space_out(document)
        self._mark_first()

    def _mark_first(self) -> None:
        """Go to the first of the words that are searched for."""
        words = self.search.text().split()
        cursor = self.text.textCursor()
        cursor.movePosition(QTextCursor.MoveOperation.Start)
        self.text.setTextCursor(cursor)
        if words:
            self.text.find(words[0], QTextDocument.FindFlag(0))

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 - Qt's name
        """Esc closes, where it stops nothing."""
        if event is not None and event.key() == Qt.Key.Key_Escape:
            self.close()
            return
        super().keyPressEvent(event)


class Help:
    """The help of one window: made when it is first asked for."""

    def __init__(self, window: QWidget, topic: str, *, by_key: bool = True) -> None:
        self._window, self._topic = window, topic
        self.shown: HelpWindow | None = None
        if by_key:
            shortcut = QShortcut(QKeySequence(KEY), window)
            shortcut.setAutoRepeat(False)
            shortcut.activated.connect(self.open)

    def open(self, topic: str = "") -> None:
        """Show a page; empty: the one that belongs to the window."""
        if self.shown is None:
            self.shown = HelpWindow(self._window)
        wanted = topic or self._topic
        self.shown.open(wanted if wanted in TOPICS else TOPICS[0])

    def close(self) -> None:
        """Close it, where it is open."""
        if self.shown is not None:
            self.shown.close()


def _space_out(document: QTextDocument) -> None:
    """Room between the parts of a page; Qt itself leaves it out from the second page on."""
    block = document.begin()
    while block.isValid():
        shape = block.blockFormat()
        heading = shape.headingLevel() > 0
        shape.setTopMargin(ROOM_PX if heading and block.position() else 0)
        shape.setBottomMargin(HAIR_PX if block.textList() is not None else GAP_PX)
        QTextCursor(block).setBlockFormat(shape)
        block = block.next()


def _more() -> str:
    text = palette.CARD_TEXT
    return f"""
    QTextBrowser {{ background: {text.on}; color: {text.colour}; border: 2px solid {text.on};
        padding: 6px 10px; font-size: {BODY_PX + 1}px; }}
    QTextBrowser:focus {{ border: 2px solid {palette.KEY_FOCUS_CARD.colour}; }}
    QListWidget::item {{ padding: 7px 8px; }}
    """
