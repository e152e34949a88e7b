"""The three grades of a note, what explains them, and when they become final."""

from listener.grading.deadline import deadline
from listener.grading.grader import Grader
from listener.grading.grades import grade_note

__all__ = ["Grader", "deadline", "grade_note"]
