"""Plans: what they may say, what comes of a sweep, and how what cannot be is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from sublatch.audition.folder.layout import Layout
from sublatch.audition.plan.load import load_audition
from sublatch.demo.write import plan_text
from sublatch.errors import PlanError

TAKES = 'takes = ["a.wav"]\n'
ONE = '[[candidates]]\nname = "one"\ncircuit = "gated-open"\n'
SWEEP = '[[sweeps]]\nname = "s"\ncircuit = "gated-swept"\nvary = "knobs.tone"\n'


def plan(folder, text):
    path = folder / "my.toml"
    path.write_text(text, encoding="utf-8")
    return load_audition(path)


def test_the_demos_plan_can_be_carried_out(tmp_path):
    ready = plan(tmp_path, plan_text())
    names = ["as built", "swept at 3.5", "swept, peaked", "third order", "tone 2", "tone 5", "tone 8"]
    assert [candidate.name for candidate in ready.candidates] == names
    assert [candidate.circuit.knobs.tone for candidate in ready.candidates] == [None, 3.5, 3.5, None, 2, 5, 8]
    assert ready.full_scale_volts(ready.plan.takes[0]) == 2.0
    assert {ready.tuning(entry) for entry in ready.plan.takes} == {"bass-5"}
    assert ready.output == tmp_path / "audition"


def test_takes_are_names_or_tables_and_start_at_the_plan(tmp_path):
    ready = plan(
        tmp_path,
        f'full_scale = "2V"\ntakes = ["x/a.wav", {{ file = "b.wav", channel = 2, full_scale = 0.5 }}]\n{ONE}',
    )
    first, second = ready.plan.takes
    assert (ready.take_path(first), ready.take_path(second)) == (tmp_path / "x" / "a.wav", tmp_path / "b.wav")
    assert (first.channel, ready.full_scale_volts(first)) == (None, 2.0)
    assert (second.channel, ready.full_scale_volts(second)) == (2, 0.5)


@pytest.mark.parametrize("tuning", ["bass-6", "Guitar-7", "D1 A1 D2 G2", "Eb1, Ab1, Db2, Gb2"])
def test_a_tuning_holds_for_the_plan_or_for_one_take(tmp_path, tuning):
    takes = f'takes = ["a.wav", {{ file = "b.wav", tuning = "{tuning}" }}]\n'
    ready = plan(tmp_path, takes + ONE)
    assert [ready.tuning(entry) for entry in ready.plan.takes] == ["bass-4", tuning]
    ready = plan(tmp_path, f'tuning = "{tuning}"\n' + takes.replace(f'"{tuning}"', '"guitar-6"') + ONE)
    assert [ready.tuning(entry) for entry in ready.plan.takes] == [tuning, "guitar-6"]


def test_a_bed_and_its_level_hold_for_the_plan_or_for_one_take(tmp_path):
    takes = 'takes = ["a.wav", { file = "b.wav", bed = "x/own.flac", bed_level = "-6dB" }]\n'
    ready = plan(tmp_path, takes + ONE)
    assert [ready.bed_path(entry) for entry in ready.plan.takes] == [None, tmp_path / "x" / "own.flac"]
    assert [ready.bed_level_db(entry) for entry in ready.plan.takes] == [0.0, -6.0]
    ready = plan(tmp_path, 'bed = "bed.flac"\nbed_level = 3\n' + takes + ONE)
    assert [ready.bed_path(entry) for entry in ready.plan.takes] == [
        tmp_path / "bed.flac",
        tmp_path / "x" / "own.flac",
    ]
    assert [ready.bed_level_db(entry) for entry in ready.plan.takes] == [3.0, -6.0]


@pytest.mark.parametrize(("voicing", "file"), [("loudspeaker", None), ("x/ir.wav", "x/ir.wav")])
def test_a_voicing_is_the_plain_one_or_a_file_from_the_plan_on(tmp_path, voicing, file):
    ready = plan(tmp_path, f'voicing = "{voicing}"\n' + TAKES + ONE)
    assert ready.voicing_path == (tmp_path / file if file else None)
    assert ready.inputs == [tmp_path / "my.toml", tmp_path / "a.wav", *([tmp_path / file] if file else [])]


@pytest.mark.parametrize("output", ["..", "../x", "nope/../../x", "a/../..", "link", "link/x", "nope/../link/x", "/"])
def test_a_folder_that_is_not_below_the_plans_is_refused_with_the_way_to_get_it(tmp_path, output):
    (tmp_path / "mine").mkdir()
    (tmp_path / "x").mkdir()
    (tmp_path / "mine" / "link").symlink_to(tmp_path / "x")
    ready = plan(tmp_path / "mine", f'output = "{output}"\n' + TAKES + ONE)  # with -o, it is nobody's business
    with pytest.raises(PlanError) as caught:
        _ = ready.output
    assert str(caught.value) == (
        f"{tmp_path / 'mine' / 'my.toml'}: output must be a folder below the plan's own, got '{output}'; "
        "to write elsewhere, say where with -o"
    )


@pytest.mark.parametrize(
    ("output", "folder"), [("a/b", "a/b"), (".", "."), ("a/../b", "b"), ("..name", "..name"), ("inner/x", "inner/x")]
)
def test_a_folder_below_the_plans_is_taken_also_where_the_plan_is_reached_by_a_link(tmp_path, output, folder):
    (tmp_path / "mine" / "far").mkdir(parents=True)
    (tmp_path / "mine" / "inner").symlink_to("far")
    (tmp_path / "link").symlink_to(tmp_path / "mine")
    for start in ("mine", "link"):
        ready = plan(tmp_path / start, f'output = "{output}"\n' + TAKES + ONE)
        assert ready.output.resolve() == (tmp_path / start / folder).resolve()
    absolute = plan(tmp_path / "mine", f'output = "{tmp_path / "mine" / "x"}"\n' + TAKES + ONE)
    assert absolute.output == tmp_path / "mine" / "x"


def test_a_circuit_file_starts_at_the_plan(tmp_path):
    (tmp_path / "box.toml").write_text('title = "Box"\n[octave]\nkind = "gain-gated"\n', encoding="utf-8")
    ready = plan(tmp_path, TAKES + ONE.replace("gated-open", "box.toml"))
    assert ready.candidates[0].circuit.title == "Box"
    assert ready.inputs == [tmp_path / "my.toml", tmp_path / "a.wav", tmp_path / "box.toml"]


def test_nothing_said_is_nothing_assumed(tmp_path):
    ready = plan(tmp_path, TAKES + ONE)
    assert ready.full_scale_volts(ready.plan.takes[0]) is None
    assert ready.tuning(ready.plan.takes[0]) == "bass-4"
    assert (ready.plan.match, ready.plan.headroom, ready.plan.title) == ("loudness", 1.0, "Audition")


@pytest.mark.parametrize("settings", ['set = { "knobs.tone" = 2 }', "set = { knobs.tone = 2 }", "set.knobs.tone = 2"])
def test_settings_are_dotted_or_nested_and_leave_the_rest(tmp_path, settings):
    ready = plan(tmp_path, TAKES + ONE.replace("gated-open", "gated-swept") + settings)
    knobs = ready.candidates[0].circuit.knobs.model_dump()
    assert knobs == {"tone": 2.0, "volume": 7.5, "direct": 0.0, "direct_tone": None}


def test_a_sweep_makes_a_candidate_of_each_value(tmp_path):
    ready = plan(tmp_path, TAKES + SWEEP + 'values = [2, 3.5]\nset = { knobs.tone = 9, "switches.peak" = "peaked" }')
    assert [candidate.name for candidate in ready.candidates] == ["s 2", "s 3.5"]
    assert [candidate.circuit.knobs.tone for candidate in ready.candidates] == [2.0, 3.5]
    assert all(candidate.circuit.peak == "peaked" for candidate in ready.candidates)


def test_a_sweep_over_kinds_and_over_part_values(tmp_path):
    kinds = SWEEP.replace("knobs.tone", "filter.kind") + 'values = ["none", "third-order"]\n'
    parts = SWEEP.replace('"s"', '"r"').replace("knobs.tone", "filter.end_resistor") + 'values = ["1k", 2200]\n'
    none, third, one, two = plan(tmp_path, TAKES + kinds + parts).candidates
    assert (none.circuit.filter.kind, third.circuit.filter.kind) == ("none", "third-order")
    assert (one.name, one.circuit.filter.end_resistor) == ("r 1k", 1000.0)
    assert (two.name, two.circuit.filter.end_resistor) == ("r 2200", 2200.0)


def test_names_of_any_script_are_kept(tmp_path):
    ready = plan(tmp_path, TAKES + ONE.replace("one", "größer 🎸 低音"))
    layout = Layout(ready.output, ready)
    assert layout.sound("a", "größer 🎸 低音").name == "größer 🎸 低音.wav"


@pytest.mark.parametrize("name", ["a:b", "a\\tb", "nul", "x" * 300, "end."])
def test_every_file_stays_in_the_folder_under_a_name_that_is_safe(tmp_path, name):
    ready = plan(tmp_path, TAKES + ONE.replace('"one"', f'"{name}"'))
    layout = Layout(tmp_path / "out", ready)
    for path in layout.all_files():
        assert path.resolve().is_relative_to(tmp_path / "out")
        assert len(path.name) < 120
        assert not set(path.name) & set('<>:"|?*\t')


def test_each_file_is_given_once_and_each_is_some_ones(tmp_path):
    ready = plan(tmp_path, f'takes = ["a.wav", "b.wav"]\n{ONE}{ONE.replace("one", "two")}')
    layout = Layout(tmp_path, ready)
    files = list(layout.all_files())
    assert len(files) == len(set(files)) == 3 + 2 * (1 + 2 * 3 + 2 * 2)
    assert set(files) == {layout.page, layout.csv, layout.json, *layout.files_of("a"), *layout.files_of("b")}
    assert layout.relative(layout.sound("b", "two")) == "audio/b/two.wav"
    assert layout.relative(layout.sound_script("b", "two")) == "page/b/two.js"
    assert layout.relative(layout.reel("b")) == "reels/b.wav"
    assert layout.relative(layout.bare_script("b", 2, "bands")) == "bare/b/2-bands.js"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (ONE, "my.toml: takes: this key is needed and is not there"),
        ("takes = []\n" + ONE, "my.toml: takes: must not be empty, got []"),
        ("takes = 'a.wav'\n" + ONE, "takes: must be a list, got 'a.wav'; write it in brackets: takes = ['a.wav']"),
        ("takes = [3]\n" + ONE, "takes[1]: must be a table of keys and values, got 3"),
        ("takes = ['a.wav', '']\n" + ONE, "takes[2]: must not be empty, got ''"),
        ("takes = [{ fil = 'a.wav' }]\n" + ONE, "takes[1]: unknown key 'fil'; did you mean 'file'?"),
        ("takes = [{ file = 'a.wav', channel = 0 }]\n" + ONE, "takes[1].channel: must be at least 1, got 0"),
        (
            "takes = [{ file = 'a.wav', channel = 'left' }]\n" + ONE,
            "takes[1].channel: must be a whole number, got 'left'",
        ),
        (
            "takes = [{ file = 'a.wav', full_scale = '47k' }]\n" + ONE,
            "takes[1].full_scale: a voltage must be from −1 kV",
        ),
        ('takes = ["a\\u0000b"]\n' + ONE, "takes[1]: must be a path, got 'a\\x00b' with a null character in it"),
        (
            "takes = ['x/a.wav', 'y/a.flac']\n" + ONE,
            "takes need file names that differ, got 'a' more than once; rename",
        ),
        ("takes = ['a.wav', 'A.wav']\n" + ONE, "takes need file names that differ, got 'A' beside 'a'; rename one"),
        ("takes = ['..']\n" + ONE, "a name must stay in its folder, got '..'"),
        (TAKES, "my.toml: a plan needs at least one [[candidates]] or [[sweeps]] table"),
        (TAKES + "candidates = 3", "candidates: must be a list, got 3"),
        (
            TAKES + ONE.replace("[[", "[").replace("]]", "]"),
            "candidates: must be a list, got a table; write [[candidates]]",
        ),
        (
            TAKES + "[candidates.a]\ncircuit='gated-open'",
            "candidates: must be a list, got a table; write [[candidates]]",
        ),
        (TAKES + "[[candidates]]\ncircuit = 'gated-open'", "candidates[1].name: this key is needed and is not there"),
        (TAKES + "[[candidates]]\nname = 'one'", "candidates[1] (one).circuit: this key is needed and is not there"),
        (
            TAKES + ONE.replace("gated-open", "gated-opn"),
            "my.toml: candidate 'one': no built-in circuit 'gated-opn'; did",
        ),
        (TAKES + ONE + ONE, "every candidate needs a name of its own, got 'one' more than once"),
        (TAKES + ONE + ONE.replace("one", "One"), "every candidate needs a name of its own, got 'One' beside 'one'"),
        (TAKES + ONE.replace("one", "Bypassed"), "the name 'bypassed' is kept for the take itself; choose another"),
        (TAKES + ONE.replace("one", "../../x"), "a name must stay in its folder, got '../../x'"),
        (TAKES + ONE.replace("one", ".."), "a name must stay in its folder, got '..'"),
        (TAKES + ONE.replace("one", " "), "candidates[1].name: must not be empty, got ' '"),
        (TAKES + ONE.replace('"one"', "3"), "candidates[1].name: must be a text in quotes, got 3"),
        (TAKES + ONE + "set = 3", "candidates[1] (one).set: must be a table of keys and values, got 3"),
        (TAKES + ONE + "set = ['a']", "candidates[1] (one).set: must be a table of keys and values, got ['a']"),
        (
            TAKES + ONE + "set.knobs.volume = nan",
            "candidate 'one': gated-open: knobs.volume: a knob's position must be 0",
        ),
        (TAKES + ONE + "set.knobs.volume = 11", "to 10, got 11"),
        (
            TAKES + ONE + "set = { 'knobs.volume' = 2024-01-01 }",
            "knobs.volume must be a text, a number or a table, got the date",
        ),
        (
            TAKES + ONE + "set.knobs.tune = 3",
            "candidate 'one': gated-open: knobs: unknown key 'tune'; did you mean 'tone'?",
        ),
        (TAKES + ONE + "set.kind = 'x'", "candidate 'one': gated-open: unknown key 'kind'"),
        (TAKES + SWEEP + "values = []", "sweeps[1] (s).values: must not be empty, got []"),
        (
            TAKES + SWEEP + "values = 3",
            "sweeps[1] (s).values: must be a list, got 3; write it in brackets: values = [3]",
        ),
        (TAKES + SWEEP + "values = [1, true]", "sweeps[1] (s).values[2]: must be a number or a text, got true"),
        (TAKES + SWEEP + "values = [{ a = 1 }]", "sweeps[1] (s).values[1]: must be a number or a text, got a table"),
        (TAKES + SWEEP + "values = [nan]", "candidate 's nan': gated-swept: knobs.tone: a knob's position must be 0"),
        (TAKES + SWEEP + "values = [1, 1]", "every candidate needs a name of its own, got 's 1' more than once"),
        (TAKES + ONE.replace("one", "s 1") + SWEEP + "values = [1]", "a name of its own, got 's 1' more than once"),
        (
            TAKES + SWEEP.replace("tone", "tune") + "values = [1]",
            "candidate 's 1': gated-swept: knobs: unknown key 'tune'",
        ),
        (TAKES + SWEEP.replace(".tone", "") + "values = [1]", "candidate 's 1': gated-swept: knobs: must be a table"),
        (
            TAKES + SWEEP.replace("knobs.tone", "title") + "values = ['a/b']",
            "a name must stay in its folder, got 's a/b'",
        ),
        ("match = 'loud'\n" + TAKES + ONE, "match: must be one of loudness, rms, peak, none, got 'loud'; did you mean"),
        ("headroom = -3\n" + TAKES + ONE, "headroom: must be at least 0 dB, got -3"),
        (
            "headroom = '3V'\n" + TAKES + ONE,
            "headroom: a level is written like -60dB, got '3V'; that reads as a voltage",
        ),
        ("full_scale = '0V'\n" + TAKES + ONE, "full_scale: must be more than 0 V, got '0V'"),
        ("full_scale = 300\n" + TAKES + ONE, "full_scale: must be at most 100 V, got 300"),
        ("tuning = 'bas-4'\n" + TAKES + ONE, "my.toml: tuning: a tuning must be one of bass-4, bass-5, "),
        ("tuning = 'bas-4'\n" + TAKES + ONE, "got 'bas-4'; did you mean 'bass-4'?"),
        ("tuning = 'E1 A1 H2'\n" + TAKES + ONE, "'H2' is no note with an octave number"),
        ("tuning = 'E1 E1'\n" + TAKES + ONE, "a tuning must name each of its strings once, got 'E1 E1'"),
        ("tuning = ''\n" + TAKES + ONE, "a tuning must name each of its strings once, got ''"),
        ("tuning = 4\n" + TAKES + ONE, "tuning: must be a text in quotes, got 4"),
        (
            "takes = [{ file = 'a.wav', tuning = 'base' }]\n" + ONE,
            "takes[1].tuning: a tuning must be one of bass-4",
        ),
        ("output = ''\n" + TAKES + ONE, "output: must not be empty, got ''"),
        ("voicing = ''\n" + TAKES + ONE, "voicing: must not be empty, got ''"),
        ("voicing = true\n" + TAKES + ONE, "voicing: must be a text in quotes, got true"),
        ("bed = 3\n" + TAKES + ONE, "bed: must be a text in quotes, got 3"),
        ("bed_level = '3V'\n" + TAKES + ONE, "bed_level: a level is written like -60dB, got '3V'"),
        ("bed_level = 90\n" + TAKES + ONE, "bed_level: must be at most 60 dB, got 90"),
        ("takes = [{ file = 'a.wav', bed = '' }]\n" + ONE, "takes[1].bed: must not be empty, got ''"),
        ("matching = 'rms'\n" + TAKES + ONE, "my.toml: unknown key 'matching'; did you mean 'match'?"),
        ("title = \n", "my.toml: line 1: title must have a value after its equals sign, got nothing"),
    ],
)
def test_what_cannot_be_is_refused_by_its_whole_name(tmp_path, text, words):
    with pytest.raises(PlanError) as caught:
        plan(tmp_path, text)
    assert words in str(caught.value)
    assert all(line.startswith(f"{tmp_path / 'my.toml'}: ") for line in str(caught.value).splitlines())


def test_every_problem_of_a_candidate_has_the_plan_and_its_name(tmp_path):
    with pytest.raises(PlanError) as caught:
        plan(tmp_path, TAKES + ONE + "set.knobs = { volume = 11, direct = 12 }")
    lines = str(caught.value).splitlines()
    assert [line.removeprefix(f"{tmp_path / 'my.toml'}: candidate 'one': ").split(":")[1] for line in lines] == [
        " knobs.volume",
        " knobs.direct",
    ]


def test_a_folder_is_no_plan_but_may_hold_one(tmp_path):
    with pytest.raises(PlanError, match=r"must be a plan file, got a folder$"):
        load_audition(tmp_path)
    (tmp_path / "audition.toml").write_text(TAKES + ONE, encoding="utf-8")
    with pytest.raises(PlanError, match=r"got a folder; is it .*audition\.toml\?"):
        load_audition(tmp_path)


def test_a_plan_that_is_not_there_is_refused_with_a_way_to_get_one():
    with pytest.raises(PlanError, match=r"^none\.toml: no such plan; 'sublatch demo my-sounds' writes one"):
        load_audition(Path("none.toml"))


# Full scale from calibration files


def test_a_take_s_own_calibration_goes_before_the_plan_s(tmp_path):
    (tmp_path / "desk.toml").write_text('full_scale = "1.5V"\n')
    (tmp_path / "stage.toml").write_text('full_scale = "4V"\n')
    takes = '"a.wav", { file = "b.wav", calibration = "stage.toml" }, { file = "c.wav", full_scale = "3V" }'
    ready = plan(tmp_path, f'calibration = "desk.toml"\ntakes = [{takes}]\n{ONE}')
    assert [ready.full_scale_volts(entry) for entry in ready.plan.takes] == [1.5, 4.0, 3.0]
    assert {tmp_path / "desk.toml", tmp_path / "stage.toml"} <= set(ready.inputs)
    ready = plan(tmp_path, f'full_scale = "2V"\ntakes = [{takes}]\n{ONE}')
    assert [ready.full_scale_volts(entry) for entry in ready.plan.takes] == [2.0, 4.0, 3.0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('full_scale = "2V"\ncalibration = "desk.toml"\n' + TAKES + ONE, "calibration: full_scale beside it says"),
        (
            'takes = [{ file = "a.wav", full_scale = 2, calibration = "desk.toml" }]\n' + ONE,
            r"takes\[1\]\.calibration: full_scale beside it says the same; keep one of them",
        ),
        ('calibration = "gone.toml"\n' + TAKES + ONE, r"calibration: .*gone\.toml: no such calibration file"),
    ],
)
def test_two_scales_or_a_calibration_that_is_not_there_are_refused(tmp_path, text, words):
    (tmp_path / "desk.toml").write_text('full_scale = "1.5V"\n')
    with pytest.raises(PlanError, match=words):
        plan(tmp_path, text)
