"""How far a musician's answers to one step have come: what is still open, what is wrong.

The same rule serves the web form, the printed page and the Desk: a step is complete when every
required question outside a choice is answered, and every choice has as many as it asks for.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from standlight.kinds.field_types import Answer, is_blank, problems_with
from standlight.kinds.values import Choice, Step


@dataclass(frozen=True, slots=True)
class Open:
    """Something that is still asked for: the ``key`` of a question or choice, and words."""

    key: str
    words: str


@dataclass(frozen=True, slots=True)
class Standing:
    """``open`` is what is still asked for, ``wrong`` what must be mended; both in form order."""

    open: tuple[Open, ...]
    wrong: tuple[Open, ...]

    @property
    def complete(self) -> bool:
        """True when nothing is open and nothing is wrong."""
        return not self.open and not self.wrong


def standing_of(step: Step, answers: Mapping[str, Answer]) -> Standing:
    """What is open and wrong in ``answers``, question key to plain data; unknown keys are kept out.

    What is wrong counts as answered: one fault is told once.
    """
    chosen = {member for choice in step.choices for member in choice.of}
    blank = {field.key for field in step.fields if is_blank(answers.get(field.key))}
    asked = [
        Open(field.key, f"“{field.prompt}” is still empty.")
        for field in step.fields
        if field.required and field.key not in chosen and field.key in blank
    ]
    wrong = [
        Open(field.key, problem)
        for field in step.fields
        for problem in problems_with(field, answers.get(field.key))
    ]
    choices = {choice.key: choice for choice in step.choices}
    for choice in step.choices:
        done = sum(_answered(member, choices, blank) for member in choice.of)
        if done < choice.least and choice.key not in chosen:
            asked.append(Open(choice.key, _more(choice, done)))
        if choice.most is not None and done > choice.most:
            wrong.append(Open(choice.key, f"Please answer {choice.most} of these, not {done}."))
    return Standing(tuple(asked), tuple(wrong))


def _answered(member: str, choices: Mapping[str, Choice], blank: set[str]) -> bool:
    """True when a member of a choice is answered; a choice when enough of its members are."""
    if member not in choices:
        return member not in blank
    inner = choices[member]
    return sum(_answered(one, choices, blank) for one in inner.of) >= inner.least


def _more(choice: Choice, done: int) -> str:
    """How many are still asked for."""
    left = choice.least - done
    return f"Choose {left} more to answer." if done else f"Choose {left} of these to answer."
