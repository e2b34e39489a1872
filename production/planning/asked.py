"""What is asked, looked at before it is planned: a refusal names the field, the reason and how to mend it."""

from __future__ import annotations

from datetime import date, timedelta

from .clocks import OutsideModel
from .legs import Course, Leg, SideCourse
from .terms import Impossible, Season, Wish
from .wording import counted, day_words, nights_words, place_words

MOST_PLANTS = 1_000_000
FURTHEST = 731  # days ahead that a pickup may lie
MOST_PARTS = 40  # working days that one line may be grafted on


def check_wish(season: Season, wish: Wish) -> None:
    """`Impossible` for a wish that makes no sense whatever the season looks like."""
    _check_quantity(wish)
    _check_pickup(season, wish)
    if not 0 < wish.level < 1:
        raise Impossible("level", f"A service level of {wish.level} is no chance.", "Choose one below 100 %.")
    if wish.collection < 1:
        raise Impossible("collection", "The customer needs a day to come.", "Allow at least one day.")


def _check_quantity(wish: Wish) -> None:
    quantity = wish.room.containers if wish.kind == "room" and wish.room else wish.quantity
    if quantity <= 0:
        raise Impossible("quantity", f"{quantity} is no quantity to grow.", "Ask for at least one.")
    if quantity > MOST_PLANTS:
        raise too_many(f"{quantity} is more than any season could hold.")


def too_many(reason: str) -> Impossible:
    return Impossible("quantity", reason, "Ask for fewer, or divide them over several lines.")


def _check_pickup(season: Season, wish: Wish) -> None:
    last = wish.pickup + timedelta(days=max(wish.later, 0))
    if last < season.today:
        raise Impossible("pickup", f"{day_words(wish.pickup, season.today)} is past.", "Choose a later day.")
    if (wish.pickup - season.today).days > FURTHEST:
        raise Impossible(
            "pickup",
            f"{day_words(wish.pickup, season.today)} is more than two years ahead.",
            "Choose a day within two years.",
        )


def check_places(season: Season, course: Course) -> None:
    """`Impossible` when the nursery has no place at all of a kind that the course needs."""
    legs = [leg for side in course.sides for leg in side.legs] + list(course.legs)
    for leg in [*legs, course.waiting] if course.waiting else legs:
        if not any(place.capacity > 0 for place in leg.places(season.places)):
            raise _no_place(leg)


def _no_place(leg: Leg) -> Impossible:
    kind = place_words(leg.stage.place_kinds)
    return Impossible(
        "place", f"There is no {kind} for {leg.stage.name.lower()}.", "Add such a place, or change the protocol."
    )


def outside_model(side: SideCourse, outside: OutsideModel) -> Impossible:
    """A thermal clock that gives no honest number, as a refusal of the side it belongs to."""
    return Impossible(
        "temperature",
        f"{side.material.name}: {outside.reason}",
        "Set the temperatures of the places, or the clock of the variety.",
    )


def refuted(words: str) -> Impossible:
    """The referee found in a plan of ours what cannot be: a mistake in the planner, which must promise nothing."""
    return Impossible(
        "plan", f"The plan that was found does not hold: {words}", "Nothing is promised; please report this."
    )


def closed_pickup(wish: Wish, nearest: list[date], today: date) -> Impossible:
    days = " or ".join(day_words(day, today) for day in nearest)
    return Impossible(
        "pickup",
        f"{day_words(wish.pickup, today)} is closed, and plants are handed over on open days.",
        f"Choose {days}, or give the line some days of latitude." if days else "Choose an open day.",
        earliest=nearest[-1] if nearest else None,
    )


def keeps_too_short(held: int, keeping: int) -> Impossible:
    return Impossible(
        "collection",
        f"Ready plants keep for {nights_words(keeping)}, but the last day to collect them comes after {held}.",
        f"Let them be collected within {counted(keeping, 'day')}.",
    )


def no_dates(wish: Wish, nearest: list[date], today: date) -> Impossible:
    """The plants can be ready before that day or after it; for it some work would fall on a closed day."""
    days = " or ".join(day_words(day, today) for day in nearest)
    return Impossible(
        "pickup",
        f"No dates lead to {day_words(wish.pickup, today)}: work that cannot wait would fall on a closed day.",
        f"Choose {days}, or let the stages last longer or shorter." if days else "Choose another day.",
        earliest=nearest[-1] if nearest else None,
    )


def too_soon(wish: Wish, earliest: date | None, seed: date | None, today: date) -> Impossible:
    """The plants cannot be ready: for lack of time, or because the seed comes too late."""
    when = day_words(wish.pickup, today)
    if earliest is None:
        mend = "Look at the protocol, the places and their dates."
        if wish.recipe and max(wish.recipe.rootstock_sowings, wish.recipe.scion_sowings) > 1:
            mend = f"Let fewer days lie between the sowings, so that all are fit to graft on one day. {mend}"
        return Impossible("pickup", f"No plan leads to {when} or any later day.", mend)
    day = day_words(earliest, today)
    if seed:
        reason = f"The seed comes on {day_words(seed, today)}, too late for {when}."
        return Impossible("seed", reason, f"{day} is the earliest, or use seed that is in hand.", earliest)
    return Impossible(
        "pickup",
        f"{when} is sooner than the plants can be ready.",
        f"They can be grown by {day} at the earliest.",
        earliest,
    )
