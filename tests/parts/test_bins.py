"""What the user owns, as a file says it: read, or refused with its line, what came and what would work."""

from __future__ import annotations

from pathlib import Path

import pytest

from sublatch.errors import StockError
from sublatch.parts.choose.bins import Bin, read_bins


def written(folder: Path, text: str) -> Path:
    """Return a file with a text."""
    path = folder / "bins.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_file_of_bins_is_read(tmp_path):
    text = (
        "\ufeffkind,value,measured,quantity,tolerance,taper,gangs,bin\r\n"
        "# what lies on the bench\r\n"
        "resistor,4k7,4.68k,12,1%,,,A1\r\n"
        "\r\n"
        "Capacitors,22n,,,,,,\r\n"
        'pot,100k,"98.5 kΩ",1,,reverse-log,2,B\r\n'
        "pot,10k,,2,,,1,\r\n"
        "resistor,10k,,0,,,,\r\n"
    )
    assert read_bins(written(tmp_path, text)) == (
        Bin("resistor", 4700.0, 4680.0, 12, 0.01),
        Bin("capacitor", 22e-9),
        Bin("pot", 100e3, 98.5e3, 1, None, "reverse-log"),
        Bin("pot", 10e3, None, 2, gangs=1),
    )


def test_semicolons_and_few_columns_will_do(tmp_path):
    assert read_bins(written(tmp_path, "value;kind\n4k7;resistor\n47n;capacitor\n")) == (
        *(Bin("resistor", 4700.0), Bin("capacitor", 47e-9)),
    )


def test_parts_of_one_value_that_measure_differently_are_two_bins(tmp_path):
    text = "kind,value,measured\ncapacitor,22n,21.3n\ncapacitor,22n,22.9n\n"
    assert [one.actual for one in read_bins(written(tmp_path, text))] == [21.3e-9, 22.9e-9]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "must have a line of column names, such as 'kind,value,quantity', .* got an empty file"),
        ("kind,value\n", "got column names alone"),
        ("kind,valeu\nresistor,4k7\n", "line 1: columns must be among kind, .* got 'valeu'; did you mean 'value'"),
        ("kind,quantity\nresistor,3\n", "line 1: the column 'value' must be there, got kind, quantity"),
        ("kind,value,value\n", "line 1: each column must be there once, got 'value' 2 times"),
        ("kind,value\nresister,4k7\n", "line 2: kind must be resistor, .* got 'resister'; did you mean 'resistor'"),
        ("kind,value\nresistor,47n\n", "line 2: value of a resistor: .* got '47n'; that reads as a capacitance"),
        ("kind,value\ncapacitor,4k7\n", "line 2: value of a capacitor: .* got '4k7'; that reads as a resistance"),
        ("kind,value\ncapacitor,47\n", "line 2: value of a capacitor: .*add p, n or u"),
        ("kind,value\n\nresistor,abc\n", "line 3: value of a resistor: .* got 'abc'"),
        ("kind,value\nresistor,\n", "line 2: value of a resistor: .* got ''"),
        ("kind,value\nresistor,4,7k\n", "line 2: must have a cell for each of 2 columns, got 3; write decimals with"),
        ("kind,value,measured\nresistor,4k7,4.68\n", "line 2: measured must be near the .* meant as 4.68k"),
        ("kind,value,measured\ncapacitor,22n,215n\n", "got '215n'"),
        ("kind,value,quantity\nresistor,4k7,2.5\n", "line 2: quantity must be a whole number .* got '2.5'"),
        ("kind,value,quantity\nresistor,4k7,-1\n", "line 2: quantity must be a whole number .* got '-1'"),
        ("kind,value,tolerance\nresistor,4k7,80%\n", "line 2: tolerance must be at most 50%, got '80%'"),
        ("kind,value,tolerance\nresistor,4k7,5\n", "line 2: tolerance: .* got '5'"),
        ("kind,value,taper\npot,50k,logarithmic\n", "line 2: taper must be linear, .* got 'logarithmic'"),
        ("kind,value,taper\nresistor,50k,log\n", "line 2: taper is for pots: leave it empty, got 'log'"),
        ("kind,value,gangs\npot,50k,3\n", "line 2: gangs must be 1 or 2, got '3'"),
        (
            "kind,value\nresistor,4k7\nresistor,4.7k\n",
            "line 3: a bin must have one value, got the resistor of 4.7k again, after line 2; put both into one line",
        ),
        (
            "kind,value,bin\nresistor,4k7,A1\nresistor,10k,A1\n",
            "line 3: a bin must have one value, got bin 'A1' again, after line 2",
        ),
    ],
)
def test_what_cannot_be_is_told_with_its_line_and_what_came(tmp_path, text, told):
    with pytest.raises(StockError, match=f"bins.csv: .*{told}"):
        read_bins(written(tmp_path, text))


def test_a_file_that_is_not_there_is_told_with_one_much_like_it(tmp_path):
    written(tmp_path, "kind,value\n")
    with pytest.raises(StockError, match=r"bin\.csv: no such file; did you mean 'bins\.csv'"):
        read_bins(tmp_path / "bin.csv")
