"""Planted schools as rows of given levels: who was rated by whom, with known truths."""

import numpy as np

from standlight.ratings.given import GivenRating

THRESHOLDS = np.array([-1.5, 0.0, 1.5])
INSTRUMENTS = ("flute", "clarinet", "trumpet", "trombone")


def levels_at(random, logits):
    """A level 1 to 4 drawn at each of ``logits``."""
    cumulated = np.concatenate([[0.0], np.cumsum(THRESHOLDS)])
    weights = np.exp(np.arange(4) * np.asarray(logits)[:, None] - cumulated)
    shares = (weights / weights.sum(axis=1, keepdims=True)).cumsum(axis=1)
    return 1 + (shares[:, :-1] < random.random(len(shares))[:, None]).sum(axis=1)


class School:
    """Musicians in ensembles, tasks, a day effect; ``rated`` gives the rows of some hearings."""

    def __init__(self, seed, n_ensembles=2, n_students=20, n_tasks=6, severity=(-0.5, 0.5),
                 day=0.5, criteria=("tone", "rhythm", "dynamics"), own_tasks=False):
        self.random = np.random.default_rng(seed)
        self.severity, self.criteria = np.array(severity), criteria
        self.own_tasks, self.n_tasks = own_tasks, n_tasks
        self.ensemble = np.repeat(np.arange(n_ensembles), n_students)
        self.place = self.random.normal(0.5, 1.0, len(self.ensemble))
        self.hard = self.random.normal(0.0, 0.6, n_tasks)
        self.day = self.random.normal(0.0, day, (len(self.ensemble), n_tasks))
        self.flat = set()
        """Tasks whose levels are drawn without looking at the musician."""

    def rated(self, student, task, rater):
        """The rows of one take by one rater."""
        own = 0.0 if task in self.flat else self.place[student] + self.day[student, task]
        steep = np.linspace(-0.4, 0.4, len(self.criteria))
        logits = own - self.hard[task] - steep - self.severity[rater]
        group = int(self.ensemble[student])
        instrument = INSTRUMENTS[student % len(INSTRUMENTS)]
        task_key = f"e{group}t{task:02}" if self.own_tasks else f"t{task:02}"
        return [
            GivenRating(f"s{student:03}", f"e{group}", f"e{group}-{instrument}", instrument,
                        task_key, f"s{student:03}/{task:02}", 7.0 * task, 7.0 * task + 1,
                        name, f"r{rater}", int(level))
            for name, level in zip(self.criteria, levels_at(self.random, logits), strict=True)
        ]

    def nested(self):
        """Everybody's takes, each by the rater of the musician's own ensemble."""
        return [row for student, group in enumerate(self.ensemble)
                for task in range(self.n_tasks) for row in self.rated(student, task, group)]
