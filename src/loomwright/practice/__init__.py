"""Practice bench: hidden faults, measured blind, scored beside the engine's own way."""

from loomwright.practice.attempt import Attempt, Prediction, Taken, judge, take
from loomwright.practice.exercise import LEVELS, Exercise, Level, exercise_id, hide, read_id
from loomwright.practice.progress import Entry, FileProgress, ProgressLog
from loomwright.practice.replay import ReplayLine, replay
from loomwright.practice.score import Price, Score, price, score
from loomwright.practice.tasks import TASKS, Seen, Task, shown_tasks

__all__ = [
    "LEVELS",
    "TASKS",
    "Attempt",
    "Entry",
    "Exercise",
    "FileProgress",
    "Level",
    "Prediction",
    "Price",
    "ProgressLog",
    "ReplayLine",
    "Score",
    "Seen",
    "Taken",
    "Task",
    "exercise_id",
    "hide",
    "judge",
    "price",
    "read_id",
    "replay",
    "score",
    "shown_tasks",
    "take",
]
