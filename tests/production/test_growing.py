"""Recording work: what it counts, where it moves the plants, and what it refuses."""

from production.models import Count, Part


def test_sowing_counts_seeds_from_our_oldest_lot_and_lets_the_line_grow(ground):
    ground.lot(ground.rootstock)
    newer = ground.lot(ground.scion)
    oldest = ground.lot(ground.scion, received_on=ground.today.replace(year=2026))
    line = ground.line()
    part = ground.part(line)
    work = ground.do(part, "sow", subject="scion")
    sowing = work.sowing
    sowing.refresh_from_db()
    assert sowing.lot == oldest != newer
    assert sowing.sown_on == ground.today
    assert Count.objects.get(sowing=sowing).quantity == sowing.seeds
    line.refresh_from_db()
    assert line.state == "growing"
    assert Part.objects.get().state == "alive"
