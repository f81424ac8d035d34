"""The form that gives work out, read back: rules of each step from its fields.

A choice's numbers are named ``least:STEP:CHOICE`` and ``most:STEP:CHOICE``; questions that are
required for all are the values of ``required:STEP``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from standlight.errors import StandlightError
from standlight.kinds import Choice, Kind, Step, rule_problems


def rules_from(
    kind: Kind, cells: Mapping[str, str], listed: Callable[[str], Sequence[str]]
) -> dict[str, object]:
    """What an assignment asks otherwise than its kind does, by step; {} for nothing.

    ``listed`` gives all values of a field. Raises `StandlightError` in the words of the form.

    >>> from standlight.kinds import KINDS
    >>> rules_from(KINDS["finds"], {}, {"required:find": ["heard"]}.get)
    {'find': {'required': ['heard']}}
    """
    rules: dict[str, object] = {}
    for step in kind.steps:
        data: dict[str, object] = {}
        required = list(listed(f"required:{step.key}") or ())
        if required:
            data["required"] = required
        choices = {choice.key: _numbers(step, choice, cells) for choice in step.choices}
        own = {
            choice.key: choices[choice.key]
            for choice in step.choices
            if choices[choice.key] != _kinds_own(choice)
        }
        if own:
            data["choices"] = own
        for problem in rule_problems(data, step):
            raise StandlightError(_in_words(problem, step).removesuffix("."))
        if data:
            rules[step.key] = data
    return rules


def _kinds_own(choice: Choice) -> list[int]:
    """The numbers that the kind itself asks for."""
    return [choice.least, len(choice.of) if choice.most is None else choice.most]


def _numbers(step: Step, choice: Choice, cells: Mapping[str, str]) -> list[int]:
    """Least and most of one choice as typed, the kind's own where nothing stands."""
    found = []
    for end, own in zip(("least", "most"), _kinds_own(choice), strict=True):
        text = (cells.get(f"{end}:{step.key}:{choice.key}") or "").strip()
        if text and not (text.isascii() and text.isdigit() and len(text) < 5):
            raise StandlightError(
                f"{text[:40]!r} is no number of questions", where=choice.prompt or step.name
            )
        found.append(int(text) if text else own)
    return found


def _in_words(problem: str, step: Step) -> str:
    """A sentence with prompts where it names keys, which a director never sees."""
    for one in (*step.choices, *step.fields):
        problem = problem.replace(f"“{one.key}”", f"“{one.prompt or step.name}”")
    return problem
