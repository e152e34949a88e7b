"""A note meets the timeline: the chord it belongs to, and its neighbours in the line."""

from listener.placing.line import NoteLine, is_dead, semitone
from listener.placing.place import Place, place
from listener.placing.scene import SLACK_BEATS, Scene

__all__ = ["SLACK_BEATS", "NoteLine", "Place", "Scene", "is_dead", "place", "semitone"]
