"""What turns made only to learn would bring, told."""

from collections.abc import Sequence
from typing import Any

from balancer.car.conventions import CORNERS
from balancer.files.car_file import CarFile
from balancer.report.words.numbers import chance, number
from balancer.report.words.prose import wrapped
from balancer.report.words.turns import turned_corners
from balancer.session.identify import Before, Lesson


def lessons_json(lessons: Sequence[Lesson]) -> list[dict[str, Any]]:
    """Give lessons as dicts, under the names of the contract."""
    return [
        {
            "turns": dict(zip(CORNERS, each.turns.tolist(), strict=True)),
            "answer_uncertainty": {"front": each.front._asdict(), "rear": each.rear._asdict()},
            "landing": each.landing._asdict(),
        }
        for each in lessons
    ]


def lessons_text(lessons: Sequence[Lesson], file: CarFile) -> str:
    """Tell lessons, a paragraph each."""
    if not lessons:
        return "Nothing can be turned on one axle alone, so nothing only to learn."
    return "\n".join(wrapped(_text(each, file)) for each in lessons)


def _text(lesson: Lesson, file: CarFile) -> str:
    turns = turned_corners(lesson.turns.tolist(), file.counts())
    front, rear = _percents(lesson.front), _percents(lesson.rear)
    then, now = chance(lesson.landing.then), chance(lesson.landing.now)
    return (
        f"Turned only to learn, {turns} and weighed: how the front answers to turns is known to"
        f" {front}, the rear to {rear}. What is turned after that lands in tolerance with {then};"
        f" the plan now, with {now}."
    )


def _percents(each: Before) -> str:
    return f"± {number(100 * each.then, 1)} % (now {number(100 * each.now, 1)} %)"
