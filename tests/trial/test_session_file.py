"""Files that the listening page cannot have written, refused in plain words."""

from __future__ import annotations

import json

import pytest

import trial_files
from sublatch.errors import TrialError
from sublatch.files.text import MOST_BYTES
from sublatch.trial.read import read_trial
from trial_files import NAMES, forced, ranking, write

P_12_OF_16 = 2517 / 65536


def read(tmp_path, document, name="r.json"):
    return read_trial(write(tmp_path / name, document))


def changed(*path, to):
    """Return a good forced choice with one value replaced, or taken away."""
    document = forced(12, probability=P_12_OF_16)
    here = document
    for step in path[:-1]:
        here = here[step]
    if to is ...:
        del here[path[-1]]
    else:
        here[path[-1]] = to
    return document


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ([], "must be what the listening page saved after blind listening, got other JSON"),
        ({"title": "x"}, "must be what the listening page saved after blind listening, got other JSON"),
        (changed("blind_listening", to=2), "blind_listening must be 1, got 2; was the page made by a later version?"),
        (changed("blind_listening", to=True), "blind_listening must be 1, got true"),
        (changed("kind", to="taste"), "kind must be one of forced-choice, ranking, got 'taste'"),
        (changed("kind", to=["ranking"]), "kind must be one of forced-choice, ranking, got"),
        (changed("taek", to="x"), "unknown key 'taek'; did you mean 'take'?"),
        (changed("take", to=...), "take: this key is needed and is not there"),
        (changed("take", to=3), "take: must be a text in quotes, got 3"),
        (changed("session", to="x"), "session: must be 16 of the digits 0 to 9 and a to f, got 'x'"),
        (
            changed("began", to="yesterday"),
            "began: must be an instant such as 2030-01-31T18:30:00.000Z, got 'yesterday'",
        ),
        (changed("began", to="2030-01-31T18:30:00"), "began: must be an instant"),
        (changed("ended", to="2030-01-31T18:29:00Z"), "ended must not be before began"),
        (changed("planned", to=4), "planned: must be at least 5, got 4"),
        (changed("planned", to=501), "planned: must be at most 500, got 501"),
        (changed("planned", to="16"), "planned: must be a whole number, got '16'"),
        (changed("planned", to=12), "trials must be at most the 12 that were planned, got 16"),
        (changed("trials", to=[]), "trials: must not be empty"),
        (changed("trials", to={}), "trials: must be a list, got a table"),
        (changed("trials", 2, "answer", to="C"), "trials[3].answer: must be one of A, B, got 'C'"),
        (changed("trials", 2, "answer", to=None), "trials[3].answer: must be one of A, B, got"),
        (changed("trials", 2, "order", to=["as built", "as built"]), "trials[3].order must hold every candidate once"),
        (changed("trials", 2, "order", to=["as built"]), "trials[3].order must hold every candidate once"),
        (changed("trials", 2, "order", to="AB"), "trials[3].order: must be a list, got 'AB'"),
        (changed("trials", 2, "begun_s", to=30.0), "trials[3] must begin after the one before and be answered after"),
        (
            changed("trials", 2, "begun_s", to=1.0),
            "trials[3] must begin after the one before and be answered after it began, got begun_s = 1 and",
        ),
        (changed("trials", 2, "begun_s", to=-1.0), "trials[3].begun_s: must be at least 0"),
        (changed("trials", 2, "answered_s", to="soon"), "trials[3].answered_s: must be a number, got 'soon'"),
        (changed("candidates", 1, "name", to="as built"), "candidates must have names that differ"),
        (changed("candidates", to=[trial_files.candidate("a")] * 3), "candidates: must have at most 2 entries"),
        (changed("candidates", 0, "settings", to=[]), "candidates[1] (as built).settings: must be a table of keys"),
        (changed("result", "right", to=-1), "result.right: must be at least 0, got -1"),
        (changed("result", "probability", to=1.5), "result.probability: must be at most 1, got 1.5"),
        (changed("result", to=None), "result: must be a table of keys and values"),
    ],
)
def test_what_the_page_cannot_have_written_is_refused(tmp_path, document, words):
    path = write(tmp_path / "r.json", document)
    with pytest.raises(TrialError) as told:
        read_trial(path)
    assert str(told.value).startswith(f"{path}: {words}")


@pytest.mark.parametrize("answer", [["A", "B"], ["A", "B", "B"], ["A", "B", "D"], ["a", "b", "c"]])
def test_a_ranking_needs_every_letter_once(tmp_path, answer):
    document = ranking([NAMES] * 2)
    document["trials"][1]["answer"] = answer
    with pytest.raises(TrialError, match=r"trials\[2\]\.answer must hold A, B, C once each"):
        read(tmp_path, document)


def nested(levels):
    return {"more": nested(levels - 1)} if levels else {}


def test_settings_have_an_end(tmp_path):
    read(tmp_path, changed("candidates", 0, "settings", to=nested(7)))
    with pytest.raises(TrialError, match="must be settings, got more than 8 tables within one another"):
        read(tmp_path, changed("candidates", 0, "settings", to=nested(20)))


WHOLE = json.dumps(forced(12, probability=P_12_OF_16))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "must be a JSON file, got an empty one"),
        (b" \n", "must be a JSON file, got an empty one"),
        (b"hello", "must be a JSON file: Expecting value (line 1, column 1)"),
        (b"\xff\xfe\x00", "must be a text file in UTF-8"),
        (b"[" * 100_000, "must be a JSON file"),
        (b'{"a": 1, "a": 2}', "must be a JSON file: the key 'a' stands there twice"),
        (b'{"a": NaN}', "must be a JSON file: NaN is no finite number"),
        (b'{"a": -Infinity}', "must be a JSON file: -Infinity is no finite number"),
        (b'{"a": 1e999}', "must be a JSON file: 1e999 is no finite number"),
        (b"9" * 5000, "must be a JSON file: "),
        (b" " * (MOST_BYTES + 1), "must be at most 4 MB, got more"),
    ],
)
def test_what_is_no_json_is_refused(tmp_path, content, words):
    path = tmp_path / "r.json"
    path.write_bytes(content)
    with pytest.raises(TrialError) as told:
        read_trial(path)
    assert str(told.value).startswith(f"{path}: {words}")


def test_a_file_cut_anywhere_is_refused_and_mostly_told_as_cut(tmp_path):
    path = tmp_path / "r.json"
    hints = 0
    places = range(1, len(WHOLE), 97)
    for place in places:
        path.write_text(WHOLE[:place], encoding="utf-8")
        with pytest.raises(TrialError) as told:
            read_trial(path)
        hints += "is the file cut short?" in str(told.value)
    assert hints >= 0.9 * len(places)


def test_no_file_a_folder_and_a_null_character_are_told(tmp_path):
    with pytest.raises(TrialError, match="no such file; the listening page saves one"):
        read_trial(tmp_path / "gone.json")
    with pytest.raises(TrialError, match="must be a file that the listening page saved, got a folder"):
        read_trial(tmp_path)
    with pytest.raises(TrialError, match="cannot be read"):
        read_trial("a\0b")
