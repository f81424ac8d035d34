"""What the pages of Raters show: frozen values of plain words, each with its figure to open."""

from __future__ import annotations

from dataclasses import dataclass

from standlight.programme.queries.growth_picture import GrowthPicture, IntervalPicture, SlopeMark


@dataclass(frozen=True, slots=True)
class FigureLink:
    """A figure's name, and its key on the page of definitions."""

    key: str
    name: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One sentence, what follows it, how it is known (opened on request), and its figures."""

    sentence: str
    why: tuple[str, ...] = ()
    figures: tuple[FigureLink, ...] = ()
    picture: IntervalPicture | None = None
    more: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Act:
    """What a person can do about it: words, and where.

    A turn at the Desk, a check, or with neither the Folder.
    """

    words: str
    check_pk: int | None = None
    turn_pk: int | None = None


@dataclass(frozen=True, slots=True)
class Refused:
    """What the plain averages would claim, why that cannot be said, and what would answer it."""

    claim: str
    because: str
    need: str
    acts: tuple[Act, ...] = ()
    figures: tuple[FigureLink, ...] = ()


@dataclass(frozen=True, slots=True)
class Pair:
    """Two people who rate: how they compare over all and where it is sure, and ``others``."""

    names: str
    findings: tuple[Finding, ...]
    others: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class RatersPage:
    """The Raters place; ``none_yet`` is empty once levels were studied.

    ``pairs`` is ``None`` where no second person rates: nothing of it is then shown. ``twice`` says
    whether a second director could hear takes again.
    """

    as_of: str
    rests_on: str
    none_yet: str
    says: tuple[Finding, ...]
    cannot: tuple[Refused, ...]
    remarks: tuple[str, ...]
    steady: tuple[Finding, ...]
    steady_yet: str
    pairs: tuple[Pair, ...] | None
    n_tasks: int
    leads: bool
    twice: bool = False


@dataclass(frozen=True, slots=True)
class TaskBar:
    """One level's bar in the small picture of a task: place and length in its own units."""

    word: str
    count: int
    y: float
    length: float
    end: float


@dataclass(frozen=True, slots=True)
class TaskFinding:
    """One task: its name, what it told in sentences, how often each level was given."""

    name: str
    where: str
    sentences: tuple[str, ...]
    bars: tuple[TaskBar, ...]


@dataclass(frozen=True, slots=True)
class TasksPage:
    """What each task told us; ``none_yet`` says why there is none.

    ``tasks`` stand out, the most telling first; of the ``rest`` one sentence says all.
    """

    as_of: str
    none_yet: str
    tasks: tuple[TaskFinding, ...]
    figures: tuple[FigureLink, ...] = ()
    rest: tuple[TaskFinding, ...] = ()
    of_the_rest: str = ""


@dataclass(frozen=True, slots=True)
class TwicePick:
    """One take to hear by a second person; ``opens`` is true where the Desk opens it for them."""

    musician: str
    check: str
    ensemble: str
    check_pk: int
    turn_pk: int
    opens: bool


@dataclass(frozen=True, slots=True)
class TwiceList:
    """What one person should hear; ``yours`` is true for the reader."""

    name: str
    yours: bool
    picks: tuple[TwicePick, ...]

    @property
    def n_closed(self) -> int:
        """How many of them are of groups that this person does not direct."""
        return sum(not pick.opens for pick in self.picks)


@dataclass(frozen=True, slots=True)
class TwicePage:
    """Which takes to hear twice in ``minutes``; ``said`` is what that would bring."""

    minutes: int
    lists: tuple[TwiceList, ...]
    said: str


@dataclass(frozen=True, slots=True)
class GrowthFinding:
    """One criterion's growth of a musician: a sentence, its picture, the same in words.

    ``mark`` is the small mark; ``None`` where there is too little to draw a line.
    """

    criterion: str
    name: str
    sentence: str
    why: tuple[str, ...]
    picture: GrowthPicture | None
    listed: tuple[str, ...]
    mark: SlopeMark | None
    own_view: str = ""
    figures: tuple[FigureLink, ...] = ()


@dataclass(frozen=True, slots=True)
class GrowthGroup:
    """A musician's growth in one ensemble; ``changes`` says that the instrument changed.

    ``own_view`` is how they see themselves over all criteria.
    """

    ensemble: str
    findings: tuple[GrowthFinding, ...]
    changes: str = ""
    own_view: str = ""


@dataclass(frozen=True, slots=True)
class GrowthPart:
    """A musician's growth as a page shows it; ``none_yet`` says why there is none."""

    as_of: str
    none_yet: str
    groups: tuple[GrowthGroup, ...]

    @property
    def names_groups(self) -> bool:
        """True when the musician is in more than one ensemble."""
        return len(self.groups) > 1
