"""Parts from what is owned: nothing is ordered that lies in a bin, and figures are those of the measured values."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache

import pytest

from filter_networks import second_order
from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.networks.corners import network_response
from sublatch.errors import CircuitError
from sublatch.parts.choose.bins import Bin
from sublatch.parts.choose.fixed_search import FixedParts
from sublatch.parts.choose.from_stock import Order, Owned, fixed_needs, swept_needs, swept_offers
from sublatch.parts.choose.job import choose, choose_fixed
from sublatch.parts.choose.request import ChooseFixedRequest, ChooseRequest, check_sweep
from sublatch.parts.choose.swept_search import Stock, Sweep, swept_sets

BINS = (
    Bin("pot", 50e3, 51.2e3, 1, taper="reverse-log"),
    Bin("pot", 100e3, None, 2, taper="linear"),
    Bin("pot", 47e3, None, 3, taper="reverse-log", gangs=1),
    *(Bin("resistor", ohm, None, 4) for ohm in (1e3, 1.5e3, 1.8e3, 12e3, 270e3)),
    Bin("resistor", 2.2e3, None, 1),
    Bin("capacitor", 18e-9, 18.4e-9, 1),
    *(Bin("capacitor", farad, None, 2) for farad in (10e-9, 15e-9, 22e-9, 27e-9, 47e-9, 56e-9, 100e-9, 150e-9)),
)
WISH = ChooseRequest(low_hz=100.0, high_hz=3000.0, peak_db=4.0, bins=BINS)
THIRD = ChooseFixedRequest(corner_hz=300.0, bins=BINS)
chosen = cache(choose)
"""Several tests look at the same choice."""


def owned_count(kind: str, value: float) -> int:
    """Return how many of a part there are, by hand."""
    return sum(one.quantity for one in BINS if (one.kind, one.actual) == (kind, value) and one.gangs == 2)


def test_the_best_set_is_owned_to_the_last_part():
    found = chosen(WISH).best
    assert found.orders == ()
    flt = found.circuit.filter
    needs = Counter({("pot", flt.pot.value): 1, ("resistor", flt.end_resistor): 2})
    if flt.start_resistor is not None:
        needs["resistor", flt.start_resistor] += 2
    for pair in (flt.ground_capacitor, flt.feedback_capacitor):
        needs.update([("capacitor", pair.flat), ("capacitor", pair.peaked)])
    assert all(owned_count(*part) >= count for part, count in needs.items())
    assert next(one for one in BINS if one.kind == "pot" and one.actual == flt.pot.value).taper == flt.pot.taper


def test_measured_values_are_what_the_figures_come_from():
    """The corner at the top, from the nodal equations of the textbook's network with the values on the meter."""
    found = chosen(WISH).best
    flt = found.circuit.filter
    used = {flt.ground_capacitor.flat, flt.ground_capacitor.peaked, flt.pot.value}
    assert {18.4e-9, 51.2e3} <= used
    end = flt.end_resistor
    network = second_order(
        first_ohm=end,
        second_ohm=end,
        ground_farad=flt.ground_capacitor.flat,
        feedback_farad=flt.feedback_capacitor.flat,
    )
    top = next(one for one in found.settings if (one.wanted.tone, one.wanted.peak) == (10.0, "flat"))
    assert top.corner_hz == pytest.approx(network_response(network).corner_hz, rel=1e-6)


def test_an_order_of_one_part_and_what_it_gains_is_told():
    found = chosen(WISH)
    assert len(found.gain.orders) == 1
    assert found.gains == (found.gain.share_within > found.best.share_within)
    assert found.gains
    assert all(len(one.orders) >= len(found.best.orders) for one in found.alternatives)
    counts = [len(one.orders) for one in found.alternatives]
    assert counts == sorted(counts)


def test_where_nothing_gains_that_is_known():
    found = chosen(WISH)
    assert not replace(found, gain=None).gains
    assert not replace(found, gain=replace(found.best, orders=found.gain.orders)).gains


def test_sets_without_an_order_are_all_that_the_search_finds_among_what_is_owned():
    """The search itself is held against trying everything in test_choose; here the bins are counted by hand."""
    sweep, sale = Sweep(100.0, 3000.0, 4.0), Stock()
    offers = swept_offers(sweep, sale, Owned(BINS), any_pot=True, most_miss=1.0)
    ours = {one.parts for one in offers if not one.orders}
    expected = set()
    for pot, taper in ((51.2e3, "reverse-log"), (100e3, "linear")):
        values = {kind: tuple(one.actual for one in BINS if one.kind == kind) for kind in ("resistor", "capacitor")}
        stock = Stock((pot,), (taper,), capacitors=values["capacitor"], resistors=values["resistor"])
        for with_start in (False, True):
            for parts in swept_sets(sweep, stock, with_start=with_start):
                needs = swept_needs(parts, sweep.kind)
                if all(owned_count(*part) >= count for part, count in needs.items()):
                    expected.add(parts)
    assert ours == expected
    assert expected
    assert {len(one.orders) for one in offers} == {0, 1}


def test_only_what_is_missing_is_ordered():
    owned = Owned((Bin("resistor", 1e3, None, 1), Bin("resistor", 2e3), Bin("capacitor", 1e-9, None, 5)))
    needs = {("resistor", 1e3): 2, ("resistor", 2e3): 9, ("capacitor", 1e-9): 5, ("capacitor", 2e-9): 1}
    orders = owned.orders(needs)
    assert orders == (Order("resistor", 1e3, 1), Order("capacitor", 2e-9, 1))
    assert [one.words for one in orders] == ["1k resistor", "2n capacitor"]
    assert Order("pot", 50e3, 1, "log").words == "50k dual-gang log pot"
    assert Order("resistor", 1500.0, 2).words == "2 × 1k5 resistor"


def test_a_pot_of_another_taper_or_of_one_gang_does_not_count():
    owned = Owned((Bin("pot", 50e3, taper="log"), Bin("pot", 50e3, taper="linear", gangs=1)))
    assert owned.orders({("pot", 50e3): 1}, "log") == ()
    assert owned.orders({("pot", 50e3): 1}, "linear") == (Order("pot", 50e3, 1, "linear"),)


def test_measured_parts_are_as_sure_as_the_meter_and_others_as_the_file_or_the_shop_has_them():
    usual = Tolerances(capacitor=0.1, resistor=0.05)
    measured = Owned((Bin("capacitor", 1e-9, 1.1e-9), Bin("resistor", 1e3, None, None, 0.02)))
    found = measured.tolerances([("capacitor", 1.1e-9), ("resistor", 1e3)], usual)
    assert (found.capacitor, found.resistor, found.pot) == (0.01, 0.02, usual.pot)
    assert measured.tolerances([("capacitor", 1.1e-9), ("capacitor", 2e-9)], usual).capacitor == 0.1


@pytest.mark.parametrize(("pots", "owned"), [((47e3,), set()), ((50e3, 47e3), {51.2e3})])
def test_the_pots_that_may_be_taken_are_those_that_are_given(pots, owned):
    """By what is printed on them: the pot of 50 kΩ measures 51.2 kΩ, that of 47 kΩ has one gang."""
    sale = check_sweep(replace(WISH, pots_ohm=pots))
    assert sale.pots_ohm == pots
    offers = swept_offers(WISH.sweep, sale, Owned(BINS), any_pot=False, most_miss=1.0)
    assert {one.parts.pot_ohm for one in offers if not one.orders} == owned
    assert {one.parts.pot_ohm for one in offers} <= {*pots, *owned}


def test_a_fixed_filter_is_made_of_what_is_owned():
    found = choose_fixed(THIRD)
    assert found.best.orders == ()
    assert found.best.settings[0].corner_hz == pytest.approx(300.0, rel=0.1)
    needs = fixed_needs_of(found.best)
    assert all(owned_count(*part) >= count for part, count in needs.items())


def test_what_is_owned_helps_nothing_where_nothing_comes_near():
    bins = (Bin("resistor", 1e3),)
    found = choose(ChooseRequest(low_hz=100.0, high_hz=3000.0, peak_db=4.0, bins=bins, alternatives=0))
    assert len(found.best.orders) > 1
    assert found.gain is None
    with pytest.raises(CircuitError, match="nor any that you own, come near it"):
        choose(ChooseRequest(low_hz=100.0, high_hz=3000.0, peak_db=4.0, bins=bins, capacitors="E3", resistors="E3"))


def test_what_is_owned_is_not_hard_to_buy():
    found = chosen(WISH).best
    assert found.hard == ()
    assert not [remark for remark in found.remarks if remark.code == "hard-to-buy"]
    ordered = replace(found, orders=(Order("pot", 51e3, 1, "log"),))
    assert ordered.hard == ("a 51k dual-gang log pot",)


def test_a_needed_part_of_each_place_is_counted():
    parts = swept_sets(Sweep(100.0, 3000.0, 4.0), Stock(), with_start=True)[0]
    needs = swept_needs(parts, "swept-second-order")
    assert sum(count for (kind, _), count in needs.items() if kind == "resistor") == 4
    assert sum(count for (kind, _), count in needs.items() if kind == "capacitor") == 4
    assert swept_needs(parts, "swept-state-variable")["resistor", 10e3] >= 4
    third = fixed_needs(FixedParts(12e3, (1e-9, 1e-9, 2e-9), (0.0, 0.0)), "third-order")
    assert third["resistor", 12e3] == 3
    assert third["capacitor", 1e-9] == 2


def fixed_needs_of(parts):
    """Return how many of each part a third-order filter takes, from its settings."""
    values = parts.circuit.filter.model_dump()
    kinds = {name: name.rpartition("_")[2] for name in values if name != "kind"}
    return Counter((kind, values[name]) for name, kind in kinds.items())
