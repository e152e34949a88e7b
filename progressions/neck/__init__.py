"""The neck: tunings, frets, the five zones of a chord with the shapes beneath them, and fingers."""

from progressions.neck.fretboard import Fretboard, FrettedNote
from progressions.neck.tunings import TUNINGS, Tuning, format_tuning, parse_tuning, standard_tuning
from progressions.neck.zones import FORM_NAMES, Gap, Zone, forms_without_room, has_forms, zone_at, zones

__all__ = [
    "FORM_NAMES",
    "TUNINGS",
    "Fretboard",
    "FrettedNote",
    "Gap",
    "Tuning",
    "Zone",
    "format_tuning",
    "forms_without_room",
    "has_forms",
    "parse_tuning",
    "standard_tuning",
    "zone_at",
    "zones",
]
