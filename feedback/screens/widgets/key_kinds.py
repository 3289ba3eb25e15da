"""Kinds of keys: what writes, what says nothing, and what stops beside a text field."""

from __future__ import annotations

from typing import Final

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QKeyEvent

_K = Qt.Key

LEFT_ALONE: Final = frozenset(
    {
        # by themselves they say nothing
        _K.Key_Shift, _K.Key_Control, _K.Key_Alt, _K.Key_AltGr, _K.Key_Meta, _K.Key_Super_L,
        _K.Key_Super_R, _K.Key_CapsLock, _K.Key_NumLock, _K.Key_ScrollLock,
        # the computer's own
        _K.Key_VolumeUp, _K.Key_VolumeDown, _K.Key_VolumeMute, _K.Key_MicMute,
        _K.Key_MonBrightnessUp, _K.Key_MonBrightnessDown, _K.Key_Print, _K.Key_PowerOff,
        _K.Key_Sleep, _K.Key_WakeUp,
    }
)  # fmt: skip
MOVES_OR_EDITS: Final = frozenset(
    {
        _K.Key_Return, _K.Key_Enter, _K.Key_Tab, _K.Key_Backtab, _K.Key_Backspace, _K.Key_Delete,
        _K.Key_Insert, _K.Key_Left, _K.Key_Right, _K.Key_Up, _K.Key_Down, _K.Key_Home, _K.Key_End,
        _K.Key_Menu, _K.Key_Copy, _K.Key_Cut, _K.Key_Paste, _K.Key_Undo, _K.Key_Redo,
        _K.Key_Help, _K.Key_F1,
    }
)  # fmt: skip
"""What writing and walking through the controls of a window takes, and the key of the help."""
_NO_LETTER: Final = 0x01000000
"""From here on Qt's keys are none of the letters (Qt::Key, qnamespace.h)."""
_COMPOSES: Final = range(_K.Key_AltGr.value, _K.Key_Dead_Longsolidusoverlay.value + 1)
"""Dead keys and those of input methods, of which a letter comes (Qt::Key, qnamespace.h)."""
STANDS_NS: Final = 700_000_000
"""Sooner after a page has come, a key was meant for what was there before (our choice: longer than
it takes to see something new and keep the finger back)."""
_DESKTOP: Final = (
    Qt.KeyboardModifier.ControlModifier
    | Qt.KeyboardModifier.AltModifier
    | Qt.KeyboardModifier.MetaModifier
)
"""Held down with a key, these mean the desktop, as in Alt+Tab."""


def stops_beside_typing(event: QKeyEvent) -> bool:
    """Whether a key stops in a window with text fields: it writes no letter, whatever has the keys.

    Esc, the page keys, the function keys but F1 (a presenter's F5, a pedal's F13 to F24), media
    keys and those that Qt has no name for. Not those that edit, or move from one control to the
    next.
    """
    try:
        key = _K(event.key())
    except ValueError:
        key = _K.Key_unknown
    if says_nothing(event, key) or key in MOVES_OR_EDITS or key.value in _COMPOSES:
        return False
    text = event.text()
    return key.value >= _NO_LETTER and not (text and text.isprintable())


def says_nothing(event: QKeyEvent, key: Qt.Key) -> bool:
    """Whether a key asks for nothing by itself, or belongs to the desktop."""
    return key in LEFT_ALONE or event.key() == 0 or bool(event.modifiers() & _DESKTOP)
