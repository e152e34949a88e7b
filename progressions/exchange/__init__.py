"""Harmony of other formats: MusicXML both ways, chord annotations in JAMS and Harte-syntax lab files. No files here."""
