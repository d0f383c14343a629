"""The demo: the invented estate Loma Candil, prepared as if today were its last recorded day."""

from kiosk.demo.preparing import Prepared, prepare_demo

__all__ = ["Prepared", "prepare_demo"]
