"""Every way of placing a few lines in a tiny season, tried one after the other by plain loops.

Nothing of the planner is used but the thermal clocks and the sizes, which are checked against published numbers
elsewhere; nights, containers and hours are counted here by hand.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from itertools import chain, combinations, product
from random import Random

from production.planning import terms
from production.planning.check.overload import Ask, hours_there
from production.planning.clocks import emergence_date, graftable_window
from production.planning.sizing import size_grafted
from production.planning.terms import (
    Clock,
    Container,
    HandsClaim,
    LinePlan,
    Material,
    Nights,
    Place,
    Rate,
    Recipe,
    RoomClaim,
    Season,
    Stage,
    Warmth,
    Wish,
    WorkRule,
)
from tests.planning import nursery
from tests.planning.nursery import MONDAY

DAY = timedelta(days=1)
EASE = 1e-6


# --- tiny seasons -------------------------------------------------------------------------------------------

TRAY = Container("tray", "tray of 8", 8, 1, 0.15)
POTS = Container("pots", "tray of 4 pots", 4, 1, 0.2)
SURE = Rate(1.0)


def season(chance: Random) -> Season:
    """Places for a handful of trays, one or two people with little time, some of it taken."""
    places = [
        place("germination", 25.0, chance.randint(1, 4)),
        place("bench_a", 21.0, chance.randint(1, 4)),
        place("bench_b", chance.choice((21.0, 23.0)), chance.randint(0, 3)),
        place("healing", 26.0, chance.randint(1, 3)),
        place("staging", 18.0, chance.randint(1, 3)),
        place("cold", 11.0, chance.randint(0, 1)),
    ]
    people = [person(chance, "iris", ("graft", "crew")), person(chance, "tom", ("crew",))]
    return nursery.season(
        calendar=nursery.calendar(MONDAY + chance.randint(1, 20) * DAY),
        places=tuple(each for each in places if each.capacity),
        people=tuple(people[: chance.randint(1, 2)]),
        room=tuple(room_claim(chance, places) for _ in range(chance.randint(0, 4))),
        hands=tuple(hands_claim(chance) for _ in range(chance.randint(0, 3))),
    )


def place(key: str, degrees: float, trays: int) -> Place:
    return Place(key, key, frozenset({key.split("_")[0]}), "positions", float(trays), Warmth(degrees))


def person(chance: Random, key: str, skills: tuple[str, ...]) -> terms.Person:
    """Now and then somebody of whom is said how much lies in the morning, in the evening, or in both."""
    daily = nursery.grafter(key, chance.choice((0.3, 0.6, 1.0)), skills)
    parts = aside(chance)
    said = parts.choice((*[()] * 6, ("mornings",), ("evenings",), ("mornings", "evenings")))
    share = parts.choice((0.0, 0.25, 0.5))
    return replace(daily, **{part: tuple(share * hours for hours in daily.hours) for part in said})


def room_claim(chance: Random, places: Sequence[Place]) -> RoomClaim:
    first = MONDAY + chance.randint(0, 18) * DAY
    return RoomClaim(
        "other", "Order 9", chance.choice(places).key, first, chance.randint(1, 6), chance.randint(1, 2)
    )


def hands_claim(chance: Random) -> HandsClaim:
    day, skill = MONDAY + chance.randint(0, 18) * DAY, chance.choice(("graft", "crew"))
    hours = ((skill, chance.choice((0.2, 0.4))),)
    return HandsClaim("other", "Order 9", day, hours, care=True, part=part_of_day(aside(chance)))


def aside(chance: Random) -> Random:
    """For draws that leave all others as they are."""
    return Random(hash(chance.getstate()[1]))


def part_of_day(chance: Random) -> terms.PartOfDay:
    return chance.choice(("morning", "day", "day", "day", "evening"))


def wish(chance: Random, key: str, most: int = 16) -> Wish:
    return nursery.wish(
        chance.randint(4, most),
        MONDAY + chance.randint(12, 19) * DAY,
        key=key,
        label=f"Order {key}",
        earlier=chance.randint(0, 1),
        later=chance.randint(0, 2),
        collection=chance.choice((1, 1, 2)),
        recipe=recipe(chance),
        rootstock=material(chance, "rootstock"),
        scion=material(chance, "scion"),
        container=POTS,
    )


def recipe(chance: Random) -> Recipe:
    parts = aside(chance)
    sow = WorkRule(terms.SOW, (("crew", 40.0),), part=part_of_day(parts))
    graft = WorkRule(terms.GRAFT, (("graft", 30.0),), part=part_of_day(parts))
    care = chance.random() < 0.7
    out = WorkRule(terms.TAKE_OUT, (("crew", 60.0),), part=part_of_day(parts), at_end=True, care=care)
    pot = WorkRule(terms.POT, (("crew", 40.0),), part=part_of_day(parts))
    sides = {
        side: (
            Stage(f"{side}-germinating", terms.GERMINATING, "germinating", ("germination",), TRAY,
                  nursery.NO_BOUND, (sow,)),
            Stage(f"{side}-raising", terms.RAISING, "raising", ("bench",), TRAY, nursery.NO_BOUND),
        )
        for side in ("rootstock", "scion")
    }  # fmt: skip
    held = chance.choice((*[None] * 8, "scion", "union"))
    hold = Stage("cold", terms.COLD_HOLD, "held cold", ("cold",), TRAY, Nights(0, 0, chance.randint(1, 2)))
    return Recipe(
        key="tiny",
        name="tiny",
        method="splice",
        rootstock=sides["rootstock"],
        scion=(*sides["scion"], hold) if held == "scion" else sides["scion"],
        union=(
            Stage("healing", terms.HEAL, "healing", ("healing",), TRAY, nights(chance, 2), (graft, out)),
            *((hold,) if held == "union" else ()),
            Stage("growing", terms.GROW_ON, "growing on", ("bench",), None, nights(chance, 1), (pot,)),
        ),
        scion_sowings=2 if chance.random() < 0.1 else 1,
        sown_apart=chance.randint(1, 2),
        take=SURE,
        kept=SURE,
        keeping=chance.randint(1, 2),
    )


def nights(chance: Random, shortest: int) -> Nights:
    return Nights(shortest, shortest + chance.randint(0, 1), shortest + 1)


def material(chance: Random, key: str) -> Material:
    first = float(chance.randint(20, 40))
    clock = Clock(40.0, 8.0, 31.0, 8.0, 28.0, first, first + 10, first + chance.choice((20, 40)))
    return Material(key, key, clock, SURE, SURE)


# --- what is counted ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Stand:
    places: tuple[Place, ...]
    container: Container
    containers: int
    first: date
    leaves: date


@dataclass(frozen=True)
class Task:
    day: date
    hours: tuple[tuple[str, float], ...]
    part: terms.PartOfDay
    care: bool


class TooMany(Exception):
    """More ways than are worth trying."""


@dataclass
class Ledger:
    """What is taken, by place and night and by day; `TooMany` after so many looks at a place."""

    season: Season
    looks: int = 60_000
    room: Counter[tuple[str, date]] = field(default_factory=Counter)
    hands: dict[date, Counter[Ask]] = field(default_factory=dict)
    there: dict[tuple[date, frozenset[Ask]], float] = field(default_factory=dict)

    @classmethod
    def of(cls, season: Season) -> Ledger:
        ledger = cls(season)
        for claim in season.room:
            for night in range(claim.nights):
                ledger.room[claim.place, claim.first + night * DAY] += claim.load  # type: ignore[assignment]
        for work in season.hands:
            ledger._ask(work, 1)
        return ledger

    def add(self, plan: LinePlan) -> None:
        """What a plan takes, whatever there is."""
        for stay in plan.stays:
            for night in range(stay.nights):
                self.room[stay.place, stay.first + night * DAY] += stay.load  # type: ignore[assignment]
        for work in plan.works:
            self._ask(work, 1)

    def holds(self, plan: LinePlan) -> bool:
        """Whether there is as much as is taken, wherever this plan takes anything."""
        places = {place.key: place for place in self.season.places}
        nights = [(stay, stay.first + night * DAY) for stay in plan.stays for night in range(stay.nights)]
        room = all(self.room[s.place, night] <= places[s.place].capacity_on(night) + EASE for s, night in nights)
        return room and self.hands_suffice(
            [Task(work.day, work.hours, work.part, True) for work in plan.works if work.hours]
        )

    def _ask(self, work: HandsClaim | Task, sign: int) -> None:
        asked = self.hands.setdefault(work.day, Counter())
        for skill, amount in work.hours:
            asked[skill, work.part] += sign * amount  # type: ignore[assignment]

    def look(self) -> None:
        self.looks -= 1
        if not self.looks:
            raise TooMany

    def may_stand(self, stand: Stand, place: Place, containers: int) -> bool:
        self.look()
        each = (stand.first + night * DAY for night in range((stand.leaves - stand.first).days))
        return all(
            self.room[place.key, night] + containers * stand.container.load_in(place)
            <= place.capacity_on(night) + EASE
            for night in each
        )

    def stand(self, stand: Stand, place: Place, containers: int, sign: int = 1) -> None:
        for night in range((stand.leaves - stand.first).days):
            taken = sign * containers * stand.container.load_in(place)
            self.room[place.key, stand.first + night * DAY] += taken  # type: ignore[assignment]

    def do(self, tasks: Sequence[Task], sign: int = 1) -> None:
        for task in tasks:
            self._ask(task, sign)

    def hands_suffice(self, tasks: Sequence[Task]) -> bool:
        """Every set of skills, each in a part of the day, that this work asks for, on each of its days."""
        self.look()
        for day in {task.day for task in tasks}:
            mine = {(skill, task.part) for task in tasks if task.day == day for skill, _hours in task.hours}
            asks = sorted(ask for ask, hours in self.hands[day].items() if hours > EASE)
            for some in chain.from_iterable(combinations(asks, n) for n in range(1, len(asks) + 1)):
                asked = sum(self.hands[day][ask] for ask in some)
                if not mine.isdisjoint(some) and asked > self._there(day, frozenset(some)) + EASE:
                    return False
        return True

    def _there(self, day: date, asks: frozenset[Ask]) -> float:
        """Kept, since the same few questions are asked all the time."""
        if (day, asks) not in self.there:
            self.there[day, asks] = hours_there(self.season, day, asks)
        return self.there[day, asks]


# --- every way ----------------------------------------------------------------------------------------------

Part = tuple[date, tuple[Stand, ...], tuple[Task, ...]]  # the day of grafting, where and when, what is to be done


def can_be_placed(
    season: Season,
    lines: Sequence[tuple[Wish, Sequence[Sequence[int]]]],
    keeping: Sequence[LinePlan] = (),
    left_over: Sequence[LinePlan] = (),
) -> bool:
    """Whether all lines fit together, each in one of its divisions into parts of so many plants.

    Those of plans that are `keeping` their room have it if nobody is left over; whoever is placed must fit beside
    those left over too, since they stand where they stand.
    """
    kept = Ledger.of(season)
    for plan in keeping:
        kept.add(plan)
    if not all(kept.holds(plan) for plan in keeping):
        return False
    for plan in left_over:
        kept.add(plan)
    return _place_lines(kept, list(lines))


def _place_lines(ledger: Ledger, lines: list[tuple[Wish, Sequence[Sequence[int]]]]) -> bool:
    if not lines:
        return True
    (wish, divisions), *others = lines
    for by, sizes in product(range(-wish.earlier, wish.later + 1), divisions):
        pickup = wish.pickup + by * DAY
        if pickup >= ledger.season.today and ledger.season.calendar.is_open(pickup):
            last = _last_collection(ledger.season, pickup, wish.collection)
            if _place_parts(ledger, wish, list(sizes), pickup, last, frozenset(), others):
                return True
    return False


def _last_collection(season: Season, pickup: date, days: int) -> date:
    day, left = pickup, days - 1
    while left:
        day += DAY
        left -= season.calendar.is_open(day)
    return day


def _place_parts(
    ledger: Ledger, wish: Wish, sizes: list[int], pickup: date, last: date, used: frozenset[date], others: list
) -> bool:
    if not sizes:
        return _place_lines(ledger, others)

    def onward(day: date) -> bool:
        return _place_parts(ledger, wish, sizes[1:], pickup, last, used | {day}, others)

    for start, stands, tasks in _parts(ledger.season, wish, sizes[0], pickup, last):
        if start in used:
            continue
        ledger.do(tasks)
        if ledger.hands_suffice(tasks) and _stand_all(ledger, stands, lambda day=start: onward(day)):
            return True
        ledger.do(tasks, -1)
    return False


def _stand_all(ledger: Ledger, stands: Sequence[Stand], then) -> bool:
    if not stands:
        return then()
    stand, *others = stands
    for shares in _splits(stand.containers, len(stand.places)):
        where = [(place, n) for place, n in zip(stand.places, shares, strict=True) if n]
        if all(ledger.may_stand(stand, place, n) for place, n in where):
            for place, n in where:
                ledger.stand(stand, place, n)
            if _stand_all(ledger, others, then):
                return True
            for place, n in where:
                ledger.stand(stand, place, n, -1)
    return False


def _splits(containers: int, places: int) -> Iterator[tuple[int, ...]]:
    if places == 1:
        yield (containers,)
        return
    for here in range(containers + 1):
        for rest in _splits(containers - here, places - 1):
            yield (here, *rest)


def _parts(season: Season, wish: Wish, plants: int, pickup: date, last: date) -> Iterator[Part]:
    assert wish.recipe
    assert wish.rootstock
    assert wish.scion
    size = size_grafted(plants, wish.rootstock, wish.scion, wish.recipe.take, wish.recipe.kept, wish.level)
    for start, stands, tasks in _chains(season, wish, size.grafts, plants, pickup, last):
        rootstocks = _successions(season, wish.recipe, "rootstock", wish.rootstock, size.rootstock_seeds, start)
        scions = list(_successions(season, wish.recipe, "scion", wish.scion, size.scion_seeds, start))
        for (some, work), (more, further) in product(rootstocks, scions):
            yield start, (*some, *more, *stands), (*work, *further, *tasks)


def _chains(
    season: Season, wish: Wish, grafts: int, plants: int, pickup: date, last: date
) -> Iterator[tuple[date, list[Stand], list[Task]]]:
    recipe = wish.recipe
    assert recipe
    spans = [range(stage.nights.shortest, stage.nights.longest + 1) for stage in recipe.union]
    for lengths in product(*spans):
        for waiting in range(recipe.keeping + 1):
            ready = last - waiting * DAY
            start = ready - sum(lengths) * DAY
            if ready > pickup or start < season.today or not season.calendar.is_open(start):
                continue
            day, stands, tasks = start, list[Stand](), list[Task]()
            for stage, length in zip(recipe.union, lengths, strict=True):
                if length:
                    stands.append(_stand(season, stage, wish, grafts, day, day + length * DAY))
                tasks += [_task(rule, grafts, day, day + length * DAY) for rule in stage.works]
                day += length * DAY
            if waiting:
                final = replace(recipe.union[-1], place_kinds=("staging",))
                stands.append(_stand(season, final, wish, grafts, ready, last))
            everywhere = all(stand.places for stand in stands)
            if everywhere and all(task.care or season.calendar.is_open(task.day) for task in tasks):
                yield start, stands, tasks


def _stand(season: Season, stage: Stage, wish: Wish, plants: int, first: date, leaves: date) -> Stand:
    in_pots = stage if stage.container else replace(stage, container=wish.container)
    return Stand(_places(season, stage), *_boxes(in_pots, plants), first, leaves)


def _task(rule: WorkRule, plants: int, first: date, leaves: date) -> Task:
    hours = tuple((skill, plants / rate) for skill, rate in rule.hands)
    return Task(leaves if rule.at_end else first + rule.after * DAY, hours, rule.part, rule.care)


Sown = tuple[date, date, list[Stand], list[Task]]  # sown on a day, up on a day


def _successions(
    season: Season, recipe: Recipe, side: str, material: Material, seeds: int, start: date
) -> Iterator[tuple[list[Stand], list[Task]]]:
    """Every sowing of a side, or every two that follow each other."""
    stages = recipe.scion if side == "scion" else recipe.rootstock
    times = recipe.scion_sowings if side == "scion" else recipe.rootstock_sowings
    first = _sides(season, stages, material, -(-seeds // times), start)
    if times == 1:
        yield from ((stands, tasks) for _sown, _emerges, stands, tasks in first)
        return
    second = list(_sides(season, stages, material, seeds // times, start))
    for (sown, up, some, work), (later, up_later, more, further) in product(first, second):
        due = sown + recipe.sown_apart * DAY
        while not season.calendar.is_open(due):
            due += DAY
        if later == due and up_later > up:
            yield [*some, *more], [*work, *further]


def _sides(season: Season, stages: Sequence[Stage], material: Material, seeds: int, start: date) -> Iterator[Sown]:
    """Sown on each open day from which the stem is right, in places of each warmth, held cold or not."""
    germinating, raising, *holding = stages
    warm = [{p.warmth for p in season.places if p.kinds & set(stage.place_kinds)} for stage in stages[:2]]
    for germination, bench, held in product(*warm, range(holding[0].nights.longest + 1 if holding else 1)):
        raised = start - held * DAY
        cold = [Stand(_places(season, holding[0]), *_boxes(holding[0], seeds), raised, start)] if held else []
        for ago in range(1, 15):
            sown = raised - ago * DAY
            if sown < season.today or not season.calendar.is_open(sown) or not all(each.places for each in cold):
                continue
            emerges = emergence_date(material.clock, sown, germination)
            window = graftable_window(material.clock, sown, germination, bench)
            if emerges <= raised and window.first <= raised <= window.last:
                stands = [_warm(season, germinating, seeds, sown, emerges, germination)]
                if emerges < raised:
                    stands.append(_warm(season, raising, seeds, emerges, raised, bench))
                tasks = [_task(rule, seeds, sown, emerges) for rule in germinating.works]
                yield sown, emerges, [*stands, *cold], tasks


def _places(season: Season, stage: Stage) -> tuple[Place, ...]:
    return tuple(place for place in season.places if place.kinds & set(stage.place_kinds))


def _boxes(stage: Stage, plants: int) -> tuple[Container, int]:
    assert stage.container
    return stage.container, -(-plants // stage.container.plants)


def _warm(season: Season, stage: Stage, seeds: int, first: date, leaves: date, warmth: Warmth) -> Stand:
    places = tuple(place for place in _places(season, stage) if place.warmth == warmth)
    return Stand(places, *_boxes(stage, seeds), first, leaves)
