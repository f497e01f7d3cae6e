"""Someone with a real mouse and keyboard on an X11 screen, through the XTEST extension.

Events go to the X server and come back to the program as any user's do; nothing of Qt
is asked to pretend.
"""

from __future__ import annotations

import ctypes
import ctypes.util
from typing import Any

KEYS = {
    "\n": "Return",
    "\t": "Tab",
    " ": "space",
    "/": "slash",
    ".": "period",
    ",": "comma",
    "-": "minus",
    "_": "underscore",
    '"': "quotedbl",
    "+": "plus",
    ":": "colon",
    "=": "equal",
}
"""What X calls the characters that are not called after themselves."""


class XPerson:
    """Presses keys and moves the pointer of a display.

    Raises
    ------
    OSError
        If there is no X display, or it knows no XTEST.
    """

    def __init__(self) -> None:
        x11 = ctypes.CDLL(ctypes.util.find_library("X11") or "libX11.so.6")
        tst = ctypes.CDLL(ctypes.util.find_library("Xtst") or "libXtst.so.6")
        x11.XOpenDisplay.restype = ctypes.c_void_p
        x11.XStringToKeysym.restype = ctypes.c_ulong
        x11.XKeysymToKeycode.argtypes = [ctypes.c_void_p, ctypes.c_ulong]
        x11.XKeysymToKeycode.restype = ctypes.c_ubyte
        x11.XFlush.argtypes = [ctypes.c_void_p]
        key: list[Any] = [ctypes.c_void_p, ctypes.c_uint, ctypes.c_int, ctypes.c_ulong]
        tst.XTestFakeKeyEvent.argtypes = key
        tst.XTestFakeButtonEvent.argtypes = key
        tst.XTestFakeMotionEvent.argtypes = [
            ctypes.c_void_p,
            ctypes.c_int,
            ctypes.c_int,
            ctypes.c_int,
            ctypes.c_ulong,
        ]
        self._x11, self._tst = x11, tst
        self._display = x11.XOpenDisplay(None)
        if not self._display:
            raise OSError("there is no X display")

    def _code(self, name: str) -> int:
        symbol = self._x11.XStringToKeysym(name.encode())
        return int(self._x11.XKeysymToKeycode(self._display, symbol))

    def _send(self, code: int, down: bool) -> None:
        self._tst.XTestFakeKeyEvent(self._display, code, int(down), 0)
        self._x11.XFlush(self._display)

    def press(self, *names: str) -> None:
        """Press keys together, such as ``Control_L``, ``s``."""
        codes = [self._code(name) for name in names]
        for code in codes:
            self._send(code, True)
        for code in reversed(codes):
            self._send(code, False)

    def type(self, text: str) -> None:
        """Type text."""
        for letter in text:
            name = KEYS.get(letter, letter)
            shifted = letter.isupper() or letter in '_"+:'
            self.press(*(["Shift_L"] if shifted else []), name)

    def move(self, x: int, y: int) -> None:
        """Move the pointer to a place on the screen."""
        self._tst.XTestFakeMotionEvent(self._display, -1, x, y, 0)
        self._x11.XFlush(self._display)

    def button(self, down: bool, number: int = 1) -> None:
        """Press or let go a button of the mouse."""
        self._tst.XTestFakeButtonEvent(self._display, number, int(down), 0)
        self._x11.XFlush(self._display)
