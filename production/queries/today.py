"""What is to do on a day: late first, then by part of the day, each with where, how many and what may wait."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from orders import states
from orders.models import Nursery, OrderLine, User

from ..models import Allocation, Part, Person, SeedLot, StageWork, Stay, Work
from ..planning import terms
from ..words import day_words
from .pending import LeftOver, left_over, lines_to_tell
from .promises import Answers, answers
from .seed import Supply, stock, supply_for
from .tally import SowingTally, Tally, tally_of
from .works import ASKS, CARRYING, as_planned, label_of, most, stands_of, which_sowing, with_all


@dataclass(frozen=True)
class Task:
    """One piece of work as Today, the day sheet and the API show it."""

    work: Work
    title: str
    where: str  # what exactly, and in which place
    note: str
    figure: int
    unit: str
    number: int  # as planned
    most: int | None
    asks: str  # a kind of count, or ''
    minutes: float
    late_since: date | None = None
    may_wait: date | None = None
    waits: str = ""  # why it cannot be done yet
    lots: tuple[tuple[SeedLot, int], ...] = ()
    lines: tuple[OrderLine, ...] = ()  # whose plants these are

    @property
    def part_of_day(self) -> str:
        return self.work.part_of_day

    @property
    def one_by_one(self) -> bool:
        return self.work.kind == terms.HAND_OVER

    @property
    def by_eye(self) -> bool:
        """Whether plants are counted: a number that nobody knows before."""
        return self.asks in BY_EYE

    @property
    def may_be_left_out(self) -> bool:
        """Whether its side is sown several times, so that it can do without this sowing."""
        return self.work.kind == terms.SOW and bool(which_sowing(self.work.part, self.work.sowing_id))

    @property
    def carries(self) -> bool:
        """Whether plants are put somewhere, which may be another place than planned."""
        return self.work.kind in CARRYING - {terms.SOW}

    @property
    def counted(self) -> str:
        """'plants up', the words beside the number that is asked."""
        return str(COUNTED.get(self.asks, ""))


@dataclass(frozen=True)
class Section:
    key: str  # late, morning, day, evening, waiting
    name: str
    tasks: tuple[Task, ...]

    @property
    def minutes(self) -> float:
        return sum(task.minutes for task in self.tasks)

    @property
    def sweepable(self) -> int:
        """How many can be recorded in one go."""
        return sum(not task.one_by_one for task in self.tasks)


@dataclass(frozen=True)
class DaySheet:
    day: date
    sections: tuple[Section, ...]
    done: tuple[Work, ...] = ()  # recorded as done on this day
    others: int = 0  # pieces of work that other skills ask for, left out
    next_day: date | None = None  # when nothing is to do: the next day with work
    to_tell: tuple[OrderLine, ...] = ()  # of today: ready, and the customer does not know it
    left_over: tuple[LeftOver, ...] = ()  # of today: ready, and no order wants it
    answers: Answers = field(default=Answers())  # of today: what became of promises that were only held
    tasks: tuple[Task, ...] = field(default=())

    @property
    def late(self) -> int:
        return sum(task.late_since is not None for task in self.tasks)

    @property
    def minutes(self) -> float:
        return sum(task.minutes for task in self.tasks)

    def section(self, key: str) -> Section | None:
        return next((section for section in self.sections if section.key == key), None)


BY_EYE = frozenset({"emerged", "usable", "taken", "ready"})
COUNTED = {
    "sown": gettext_lazy("seeds sown"),
    "emerged": gettext_lazy("up"),
    "usable": gettext_lazy("fit to graft"),
    "grafted": gettext_lazy("grafted"),
    "taken": gettext_lazy("took"),
    "ready": gettext_lazy("ready"),
}


def day_sheet(day: date, *, today: date, user: User | None = None, everything: bool = False) -> DaySheet:
    """The work of a day. With several people who sign in, only what the user's skills allow, unless `everything`.

    Of today it holds the overdue too (it is planned for today by then) and, apart, sowings that wait for seed.
    """
    works = list(works_of(day, today=today))
    skills = None if everything else skills_of(user)
    mine = [work for work in works if may_do(work, skills)]
    sown = [work.sowing.variety_id for work in mine if work.kind == terms.SOW and work.sowing]
    lots = stock(sown) if sown else []
    tasks = tuple(task_of(work, lots, day=day, today=today) for work in mine)
    done = Work.objects.filter(state=Work.State.DONE, done_on=day)
    return DaySheet(
        day=day,
        sections=tuple(_sections(tasks)),
        done=tuple(with_all(done).order_by("recorded_at")),
        others=len(works) - len(mine),
        next_day=None if works else _next_day(day),
        to_tell=tuple(lines_to_tell()) if day == today else (),
        left_over=tuple(left_over()) if day == today else (),
        answers=answers(today, Nursery.current()) if day == today else Answers(),
        tasks=tasks,
    )


def works_of(day: date, *, today: date) -> Iterable[Work]:
    when = Q(day__lte=day) if day == today else Q(day=day)
    works = Work.objects.filter(
        when, state=Work.State.PLANNED, part__state__in=(Part.State.PLANNED, Part.State.ALIVE, Part.State.READY)
    )
    return with_all(works).order_by("day", "part_id", "id")


def _next_day(day: date) -> date | None:
    works = Work.objects.filter(state=Work.State.PLANNED, day__gt=day)
    return works.order_by("day").values_list("day", flat=True).first()


def skills_of(user: User | None) -> frozenset[str] | None:
    """The skills of the person who signed in, by name; None where skills limit nothing."""
    if user is None or Person.objects.filter(active=True).count() < 2:
        return None
    person = Person.objects.filter(user=user, active=True).prefetch_related("skills").first()
    return frozenset(skill.name for skill in person.skills.all()) if person else None


def may_do(work: Work, skills: frozenset[str] | None) -> bool:
    """Whether somebody with these skills can take part in the work; work that asks for none is everybody's."""
    asked = {skill for skill, _hours in work.hours}
    return skills is None or not asked or bool(asked & skills)


def _sections(tasks: tuple[Task, ...]) -> Iterable[Section]:
    now = [task for task in tasks if not task.waits]
    yield from _section("late", _("Late"), [task for task in now if task.late_since])
    for part, name in StageWork.PartOfDay.choices:
        yield from _section(part, str(name), [t for t in now if t.part_of_day == part and not t.late_since])
    yield from _section("waiting", _("Waiting"), [task for task in tasks if task.waits])


def _section(key: str, name: str, tasks: list[Task]) -> Iterable[Section]:
    if tasks:
        yield Section(key, name, tuple(tasks))


# --- one piece of work ----------------------------------------------------------------------------------------


def task_of(work: Work, lots: Sequence[SeedLot], *, day: date, today: date) -> Task:
    """`lots` are the stock of the varieties that are sown."""
    tally = tally_of(work.part)
    supply = None
    if work.kind == terms.SOW and work.sowing:
        line = next((allocation.line for allocation in work.part.allocations.all()), None)
        supply = supply_for(work.sowing, line, lots, today)
    figure, unit = figure_of(work, tally)
    return Task(
        work=work,
        title=title_of(work),
        where=where_of(work),
        note=work.note,
        figure=figure,
        unit=unit,
        number=as_planned(work, tally),
        most=most(work, tally),
        asks=ASKS.get(work.kind, ""),
        minutes=work.total_hours * 60,
        late_since=work.due if work.due < day and day == today else None,
        may_wait=_may_wait(work, day),
        waits=_waits(work, supply),
        lots=supply.lots if supply else (),
        lines=tuple(allocation.line for allocation in work.part.allocations.all()),
    )


def title_of(work: Work) -> str:
    """'Sow Tallis Red', 'Graft order 27', 'Out of the healing chamber'."""
    variety, part = work.sowing.variety if work.sowing else None, work.part
    whose = label_of(part)
    names = {
        terms.SOW: _("Sow %(variety)s") % {"variety": variety},
        terms.GRAFT: _("Graft %(whose)s") % {"whose": whose},
        terms.TAKE_OUT: _("Out of the healing chamber"),
        terms.HAND_OVER: _("Hand over %(whose)s") % {"whose": whose},
        terms.MOVE: _("Move to %(place)s") % {"place": _places(_into(work)) or _("the next place")},
    }
    if work.subject == "room":
        return _("Room is free again: %(whose)s") % {"whose": whose}
    return names.get(work.kind) or str(work.get_kind_display())


def where_of(work: Work) -> str:
    """'Marrowby on Kelder, splice graft, order 27; 3 trays, Bench 2'."""
    part = work.part
    words = [_what(work)]
    if work.kind not in (terms.GRAFT, terms.HAND_OVER):
        words.append(label_of(part))
    stands = _here(work)
    places = _places(stands)
    if places and work.kind != terms.MOVE:
        words.append(places)
    return ", ".join(word for word in words if word)


def _what(work: Work) -> str:
    sowing, batch, which = work.sowing, work.part.batch, which_sowing(work.part, work.sowing_id)
    if sowing is None:
        method = batch.get_method_display().lower() if batch.rootstock_id else ""
        return f"{batch.what}, {method}" if method else batch.what
    if work.kind == terms.SOW:
        lot = _("lot %(lot)s") % {"lot": sowing.lot} if sowing.lot else ""
        trays = ngettext("%(n)s tray", "%(n)s trays", sowing.trays) % {"n": sowing.trays}
        return ", ".join(word for word in (which, lot, f"{trays} ({sowing.container})", sowing.code) if word)
    sown = _("sown %(day)s") % {"day": day_words(sowing.sown_on)} if sowing.sown_on else ""
    return ", ".join(word for word in (str(sowing.variety), which, sown, sowing.code) if word)


def _here(work: Work) -> list[Stay]:
    """Where the plants stand when the work begins; for work that brings them somewhere, where they go."""
    stays = stands_of(work.part, work.subject, work.sowing_id)
    return [stay for stay in stays if stay.stage == work.stage and not stay.left]


def _into(work: Work) -> list[Stay]:
    return [stay for stay in _here(work) if not stay.entered]


def _places(stays: Iterable[Stay]) -> str:
    return ", ".join(dict.fromkeys(stay.place.name for stay in stays))


def figure_of(work: Work, tally: Tally) -> tuple[int, str]:
    """The number that the work is about as things stand now, and its unit: 3 trays, 104 up."""
    trays = sum(stay.containers for stay in _here(work))
    if work.kind == terms.SOW and work.sowing:
        return work.sowing.seeds, ngettext("seed", "seeds", work.sowing.seeds)
    if work.kind in (terms.MOVE, terms.TAKE_OUT) and trays:
        return trays, ngettext("tray", "trays", trays)
    if work.kind == terms.GRAFT:
        number = min(work.part.grafts, tally.graftable) or work.part.grafts
        return number, ngettext("graft", "grafts", number)
    if work.kind in (terms.COUNT_EMERGED, terms.COUNT_USABLE) and work.sowing:
        return _seedlings(work.kind, tally.of(work.sowing))
    if work.subject == "room":
        return trays, ngettext("tray", "trays", trays)
    number = tally.standing if tally.begun else work.plants
    if work.kind == terms.HAND_OVER:
        number = sum(_to_collect(allocation) for allocation in work.part.allocations.all()) or number
    return number, ngettext("plant", "plants", number)


def _seedlings(kind: str, counted: SowingTally) -> tuple[int, str]:
    """What there is to count of a sowing; of days to come it may not even be sown."""
    if counted.sown is None:
        return counted.sowing.seeds, _("to be sown")
    return (counted.sown, _("sown")) if kind == terms.COUNT_EMERGED else (counted.seedlings, _("up"))


def _to_collect(allocation: Allocation) -> int:
    """Its plants that nobody has fetched yet."""
    line = allocation.line
    return min(allocation.quantity, max(line.quantity - line.collected_quantity, 0))


def _waits(work: Work, supply: Supply | None) -> str:
    """Why it cannot be done yet, in a sentence."""
    lines = [allocation.line for allocation in work.part.allocations.all()]
    if lines and all(line.state == states.HELD for line in lines):
        until = max(line.hold_until for line in lines if line.hold_until)
        return _("Only held until %(day)s: nothing is done for %(line)s before it is confirmed.") % {
            "day": day_words(until), "line": lines[0]
        }  # fmt: skip
    if work.kind != terms.SOW:
        return ""
    if lines and not any(line.state in states.PROMISED for line in lines):
        return _("Sowing waits until %(line)s is confirmed.") % {"line": lines[0]}
    if supply is None or supply.lots or not (supply.customers or supply.expected):
        return ""
    whose = _("the customer's seed") if supply.customers else _("the seed")
    if supply.expected:
        return _("Sowing waits for %(whose)s, expected %(day)s.") % {
            "whose": whose, "day": day_words(supply.expected)
        }  # fmt: skip
    return _("Sowing waits for %(whose)s; no day is given.") % {"whose": whose}


def _may_wait(work: Work, day: date) -> date | None:
    """The last day on which it can be done without leaving the limits of biology, if that is after `day`."""
    last = None
    if work.kind == terms.GRAFT:
        ends = [sowing.graftable_to for sowing in work.part.sowings.all() if sowing.graftable_to]
        last = min(ends, default=None)
    elif work.kind in (terms.MOVE, terms.TAKE_OUT, terms.POT, terms.NOTCH, terms.FINAL_CUT, terms.HAND_OVER):
        last = _longest(work)
    return last if last and last > day else None


def _longest(work: Work) -> date | None:
    """The day on which the plants must have left the stage that they stand in now, by its longest nights."""
    stays = stands_of(work.part, work.subject, work.sowing_id)
    here = [stay for stay in stays if stay.entered and not stay.left]
    if not here:
        return None
    current = here[-1]
    protocol = work.part.batch.protocol
    stages = protocol.stages.all() if protocol else ()
    longest = next((stage.longest for stage in stages if stage.key == current.stage), None)
    if longest is None:
        return None
    begun = min(stay.first for stay in stays if stay.stage == current.stage)
    return begun + timedelta(days=longest)
