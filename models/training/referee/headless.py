"""pyrender without its window: that one asks for X11's libraries, which a machine without a screen need not have."""

from __future__ import annotations

import os
import sys
from types import ModuleType
from typing import Any

os.environ.setdefault("PYOPENGL_PLATFORM", "egl")
_window: Any = ModuleType("pyrender.viewer")
_window.Viewer = None
sys.modules.setdefault("pyrender.viewer", _window)

import pyrender  # noqa: E402

__all__ = ["pyrender"]
