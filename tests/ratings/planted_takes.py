"""Levels drawn from the model with what criteria of a take share: days, impressions, growth."""

import numpy as np

from standlight.ratings.given import GivenRating, HeardAgain

THRESHOLDS = np.array([-1.5, 0.0, 1.5])
CUMULATED = np.concatenate([[0.0], np.cumsum(THRESHOLDS)])
DAYS_BETWEEN = 22.0


def level_at(random, place):
    chances = np.exp(np.arange(4) * place - CUMULATED)
    return 1 + int(random.choice(4, p=chances / chances.sum()))


def planted_given(seed, n_students=50, n_tasks=8, *, day=0.0, own=(0.0, 0.0, 0.0), twice=0.3,
                  nested=False, growth=0.0, growth_sd=0.0, severity=(0.4, 0.0, -0.4),
                  n_criteria=3, interaction=0.0):
    """GivenRatings; severity (raters, criteria) and the musicians' places, in logits."""
    random = np.random.default_rng(seed)
    severity = np.array(severity)[:, None] + random.normal(0, 1, (len(severity), n_criteria)) * (
        interaction)
    hard = random.normal(0, 0.6, n_tasks)
    criterion = np.linspace(-0.4, 0.4, n_criteria) if n_criteria > 1 else np.zeros(1)
    rows, places = [], []
    for student in range(n_students):
        ensemble = student % 3
        place = random.normal(0.5 * ensemble * nested, 1.2)
        places.append(place)
        slope = random.normal(growth, growth_sd)
        for task in range(n_tasks):
            played = task * DAYS_BETWEEN
            now = place + slope * (played - DAYS_BETWEEN * n_tasks / 2) / 365 - hard[task]
            now += random.normal(0, day)
            first = ensemble % len(severity) if nested else int(random.integers(len(severity)))
            raters = [first]
            if len(severity) > 1 and random.random() < twice:
                raters.append((first + int(random.integers(1, len(severity)))) % len(severity))
            for rater in raters:
                heard = now + random.normal(0, own[rater])
                rows += [
                    GivenRating(
                        f"s{student:03}", f"e{ensemble}", f"e{ensemble}/all", "horn",
                        f"t{task:02}", f"s{student:03}/{task:02}", played, played + 1,
                        f"c{number}", f"r{rater}",
                        level_at(random, heard - steep - severity[rater, number]))
                    for number, steep in enumerate(criterion)]
    return rows, severity, np.array(places)


def planted_again(seed, n_takes, *, shift=0.0, session=0.0, month=0.0, impression=0.5):
    """HeardAgain of one rater: shift, drift for half an hour and for a month in logits."""
    random = np.random.default_rng(seed)
    rows = []
    for take in range(n_takes):
        place = random.normal(0.3, 1.2)
        first, again = random.normal(place, impression, 2)
        first_day = random.uniform(0, 150)
        again_day = first_day + random.uniform(10, 150)
        first_minute, again_minute = random.uniform(0, 60, 2)
        again -= (shift + session * (again_minute - first_minute) / 30
                  + month * (again_day - first_day) / 30.44)
        rows += [
            HeardAgain(f"s{take}", f"k{take}", f"c{number}", "r0", level_at(random, first),
                       level_at(random, again), first_day, again_day, first_minute, again_minute)
            for number in range(3)]
    return rows
