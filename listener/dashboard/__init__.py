"""The screen while playing: events make a state, and the screen is a pure function of the state."""

from listener.dashboard.canvas import Frame
from listener.dashboard.layout import render
from listener.dashboard.model import DashboardModel
from listener.dashboard.state import DashboardState, InputLevel, PageBar, PageChord, Phase, ShownNote

__all__ = [
    "DashboardModel",
    "DashboardState",
    "Frame",
    "InputLevel",
    "PageBar",
    "PageChord",
    "Phase",
    "ShownNote",
    "render",
]
