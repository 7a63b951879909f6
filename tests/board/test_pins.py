"""Pin numbers against the packages' own order, written down from the data sheets' drawings (from memory)."""

from __future__ import annotations

import pytest

from board_cases import circuit_of, every_case
from sublatch.board.assemble import board
from sublatch.board.check.pin_list import pin_list
from sublatch.board.packages.pins import PINOUTS
from sublatch.board.schematic.blocks import sheets

ORDERS = {
    "op-amp": "A out|A -|A +|V-|B +|B -|B out|V+",
    "comparator": "A out|A -|A +|V-|B +|B -|B out|V+",
    "flip-flop": "A Q|A /Q|A CLK|A R|A D|A S|VSS|B S|B D|B R|B CLK|B /Q|B Q|VDD",
    "analogue switch": "b1|b0|c1|c|c0|INH|VEE|VSS|C|B|A A|A 0|A 1|A common|b|VDD",
    "transconductance amplifier": "A control|A diodes|A +|A -|A out|V-|A buffer in|A buffer out|"
    "B buffer out|B buffer in|V+|B out|B -|B +|B diodes|B control",
}
"""From pin 1 on: TI TL072 and LM358, LM393, SCHS023E (CD4013B), SCHS047 (CD4053B), LM13700; all from memory."""


@pytest.mark.parametrize("kind", ORDERS)
def test_pins_stand_in_the_data_sheets_order(kind: str) -> None:
    pinout = PINOUTS[kind]
    names = ORDERS[kind].split("|")
    assert len(names) == pinout.count
    for number, name in enumerate(names, start=1):
        section, pin = name.split(" ", 1) if " " in name else ("", name)
        assert pinout.number(section, pin) == number


def test_every_kind_of_package_has_its_order() -> None:
    assert set(ORDERS) == set(PINOUTS)


@every_case
def test_every_pin_of_every_package_is_listed_once_and_only_outputs_stay_open(case: str) -> None:
    made = board(circuit_of(case))
    packages = pin_list(made)
    assert len(packages) == sum(part.kind == "package" for part in made.components)
    for package in packages:
        assert [pin.number for pin in package.pins] == list(range(1, int(package.package.removeprefix("DIP-")) + 1))
        for pin in package.pins:
            if pin.net is None:
                assert pin.name in ("Q", "/Q", "out", "buffer out")
            else:
                part = next(one for one in made.components if one.reference == pin.component)
                assert part.net(pin.name) == pin.net


@pytest.mark.parametrize("case", ["gated-swept-overtone", "pair"])
def test_the_schematic_has_the_number_of_each_pin_that_is_joined(case: str) -> None:
    made = board(circuit_of(case))
    wanted = sorted(str(pin.number) for package in pin_list(made) for pin in package.pins if pin.net is not None)
    written = sorted(text for sheet in sheets(made) for text, _, _ in sheet.texts if text.isdigit() and len(text) < 3)
    plain = [text for text in written if text not in ("0", "1")]  # the switch's throws are called so too
    assert plain == [text for text in wanted if text not in ("0", "1")]
    assert written.count("1") - wanted.count("1") == sum(part.kind == "analogue switch" for part in made.components)
