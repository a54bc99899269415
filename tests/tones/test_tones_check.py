"""The check finds planted faults and has nothing wrong to say of our own rows."""

from __future__ import annotations

from pathlib import Path

import pytest

from chantwright.tones import Finding, check

Fault = tuple[str, str, str]


def rows(tmp_path: Path, text: str) -> tuple[Path, list[Finding]]:
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    return path, check([path])


def test_our_own_rows() -> None:
    assert [f for f in check() if f.level == "wrong"] == []
    assert check() == []


LEGETOS = '[[branch]]\nid = "t4.heirmologic_legetos"\n'
PAPADIC = '[[branch]]\nid = "t1.papadic"\n'

WRONG: list[Fault] = [
    (
        "steps that do not add up",
        '[[scale]]\nid = "diatonic"\nsteps = [12, 10, 9, 12, 12, 10, 8]\n',
        "its steps add to 73, but its span is 72",
    ),
    (
        "an octave that is none",
        '[[scale]]\nid = "triphonic"\nrepeat = "octave"\n',
        "repeats by the octave, 72 moria, but its steps make 30",
    ),
    (
        "a repeat nobody knows",
        '[[scale]]\nid = "triphonic"\nrepeat = "fourth"\n',
        "no way to repeat",
    ),
    (
        "ratios that make no octave",
        '[[scale]]\nid = "diatonic"\nratios = ["9/8", "9/8", "9/8", "9/8", "9/8", "9/8", "9/8"]\n',
        "its ratios do not make its span",
    ),
    (
        "a scale that falls beyond its span",
        '[[scale]]\nid = "enharmonic"\nbeyond = "high"\n[[scale]]\nid = "high"\nsystem = "pmc72"\n'
        'genus = "x"\nfrom = "ni_"\nsteps = [90]\nrepeat = "third"\n',
        "is not higher than",
    ),
    (
        "a colouring that does not close",
        '[[chroa]]\nid = "kliton"\nsteps = [14, 12, 6]\n',
        "its steps add to 32 moria, but from pa to di the diatonic scale has 30",
    ),
    (
        "a colouring with a step too few",
        '[[chroa]]\nid = "kliton"\nsteps = [14, 16]\n',
        "there are 3 steps, and it gives 2",
    ),
    (
        "an accidental of another size",
        '[[accidental]]\nid = "flat4"\nmoria = -40\n',
        "no size of a sharp or flat",
    ),
    (
        "a final that is no close",
        LEGETOS + 'final = ["di"]\n',
        "tone 4, heirmologic (legetos): the final note di is not the branch's base vou nor",
    ),
    (
        "a close outside the compass",
        LEGETOS + 'incomplete = ["di", "zo\'"]\n',
        "the half close zo' lies outside the wide compass ni to ni'",
    ),
    ("a base outside the compass", LEGETOS + 'base = "ke_"\n', "the base ke_ lies outside"),
    (
        "a usual compass wider than the wide one",
        LEGETOS + 'usual = ["di_", "ke"]\n',
        "the usual compass di_ to ke goes outside",
    ),
    (
        "an ison note nobody reaches",
        LEGETOS + 'ison = { base = "vou", at = { di = "ga__" } }\n',
        "the ison note ga__ is neither in the wide compass",
    ),
    (
        "an ison for a close that is never sung",
        LEGETOS + 'ison = { base = "vou", at = { "pa\'" = "vou" } }\n',
        "a close on pa', which the branch never sings",
    ),
    (
        "an attraction as large as the step",
        '[[attraction]]\nid = "ga_to_di"\nmoria = 12\nrange = [4, 12]\n',
        "bends ga by 12 moria, as far as di in the diatonic scale",
    ),
    (
        "an attraction too large in one scale alone",
        '[[branch]]\nid = "t3.heirmologic"\nattractions = ["zo_flat"]\n'
        '[[attraction]]\nid = "zo_flat"\nmoria = -6\n',
        "tone 3, heirmologic: the attraction “zo_flat” bends zo by -6 moria, as far as ke in the "
        "enharmonic scale",
    ),
    (
        "an attraction that leans away",
        '[[attraction]]\nid = "pa_to_vou"\nmoria = -4\nrange = [-6, -2]\n',
        "leans away from its target vou",
    ),
    (
        "a moment nobody knows",
        '[[attraction]]\nid = "pa_to_vou"\nwhen = ["lower_neighbor"]\n',
        "no moment we know",
    ),
    (
        "an attraction that does not exist",
        LEGETOS + 'attractions = ["zo_flatt"]\n',
        "there is no attraction “zo_flatt”",
    ),
    (
        "an intonation that does not exist",
        LEGETOS + 'intonation = "t4.legetoss"\n',
        "there is no intonation “t4.legetoss”",
    ),
    (
        "an intonation in another scale",
        LEGETOS + 'intonation = "t2"\n',
        "is sung in the soft_chromatic scale, but the branch in the diatonic scale",
    ),
    (
        "an intonation that ends elsewhere",
        '[[intonation]]\nid = "t1"\nshort = [["a", "pa", 1], ["na", "ni", 1], ["nes", "zo_", 2]]\n',
        "the short intonation “t1” ends on zo_, which is neither the base pa nor",
    ),
    ("a scale that does not exist", PAPADIC + 'scale = "diatonik"\n', "no scale “diatonik”"),
    ("a style that does not exist", PAPADIC + 'style = "slow"\n', "no style “slow”"),
    ("a tone that does not exist", PAPADIC + "tone = 9\n", "no tone “9”"),
    (
        "a hymn sent to a branch that does not exist",
        '[[usage]]\nid = "t8.canon"\nbranch = "t8.heirmologik"\n',
        "there is no branch “t8.heirmologik”",
    ),
    (
        "a hymn sent to another tone",
        '[[usage]]\nid = "t8.canon"\nbranch = "t1.heirmologic"\n',
        "sends tone 8 to a branch of tone 1",
    ),
    (
        "a usage nobody finds",
        '[[usage]]\nid = "canon8"\ntone = 8\nkind = "canon"\nbranch = "t8.heirmologic"\n',
        "the usage row “canon8” is never found",
    ),
    (
        "a tone twice",
        '[[tone]]\nid = "first"\nn = 1\nenglish = ["One"]\ngreek = "x"\narabic = "x"\nethos = "x"\n'
        'martyria = []\nsignature_note = "pa"\n',
        "tone 1 stands twice",
    ),
    (
        "a tone without a fast branch",
        '[[branch]]\nid = "t3.heirmologic"\nstyle = "papadic"\n',
        "tone 3 has no heirmologic branch",
    ),
    ("a field nobody reads", LEGETOS + 'finals = ["vou"]\n', "a field “finals” that nothing reads"),
    ("a table nobody reads", '[[braanch]]\nid = "x"\n', "no table “braanch”"),
    ("a row that is a table", '[branch]\nid = "x"\n', "“branch” is not written as a row"),
    ("a confidence that is none", PAPADIC + 'conf = "sure"\n', "“conf” is “sure”"),
    (
        "a source nobody explains",
        PAPADIC + 'src = ["memmory"]\n',
        "names a source “memmory” that nobody explains",
    ),
    ("a source that is no word", PAPADIC + "src = 3\n", "names a source “3” that nobody explains"),
    (
        "an attraction with another rule",
        '[[attraction]]\nid = "zo_flat"\noctaves = "both"\n',
        "“octaves” is “both”",
    ),
    (
        "a usage without a style",
        '[[usage]]\nid = "any.ode"\nkind = "ode"\n',
        "the usage row “any.ode” has no “style”",
    ),
    (
        "names of notes in a parish file",
        '[[note]]\nid = "ni"\nspellings = ["nu"]\n',
        "cannot change the table “note”",
    ),
    ("a note that is none", LEGETOS + 'base = "pi"\n', "“pi” is not a note"),
    ("a new row without fields", '[[branch]]\nid = "t1.papadik"\nbase = "pa"\n', "has no"),
]


@pytest.mark.parametrize(("text", "sentence"), [w[1:] for w in WRONG], ids=[w[0] for w in WRONG])
def test_planted_faults(tmp_path: Path, text: str, sentence: str) -> None:
    path, found = rows(tmp_path, f"# our own rows\n\n{text}")
    named = [f for f in found if sentence in f.sentence]
    assert named, [f.sentence for f in found]
    assert named[0].level == "wrong"
    if "tone 3 has no" not in sentence and "tone 3, heirmologic: the attr" not in sentence:
        assert named[0].where.line >= 3 or named[0].where.file.endswith("s.toml")
    if named[0].where.file == str(path):
        assert named[0].where.line >= 3


DOUBTS: list[Fault] = [
    (
        "an ison that moves at no close",
        LEGETOS + 'ison = { base = "vou", at = { ke = "di" } }\n',
        "moves at a close on ke, which is not among the branch's closes",
    ),
    (
        "syllables left out",
        '[[intonation]]\nid = "t1"\nshort = [["a", "pa", 1], ["nes", "pa", 2]]\n',
        "sings a-nes, but its syllables are a-na-nes",
    ),
    (
        "a base outside the usual compass",
        LEGETOS + 'usual = ["ga", "ke"]\n',
        "the base vou lies outside the usual compass",
    ),
    (
        "a size outside its own range",
        '[[attraction]]\nid = "pa_to_vou"\nmoria = 7\n',
        "outside its own range 2 to 6",
    ),
    ("a table of something else", '[[recipe]]\nid = "x"\n', "nothing here reads a table “recipe”"),
]


@pytest.mark.parametrize(("text", "sentence"), [d[1:] for d in DOUBTS], ids=[d[0] for d in DOUBTS])
def test_doubts(tmp_path: Path, text: str, sentence: str) -> None:
    _, found = rows(tmp_path, text)
    assert [f.level for f in found if sentence in f.sentence] == ["doubtful"]
    assert not [f for f in found if f.level == "wrong"]


def test_remedies_name_the_nearest_word(tmp_path: Path) -> None:
    _, found = rows(tmp_path, LEGETOS + 'finals = ["vou"]\n')
    assert [f.remedy for f in found] == ["Did you mean “final”?"]
    assert found[0].where.word == "finals"
    assert found[0].where.line == 1
    _, found = rows(tmp_path, '\n[[braanch]]\nid = "x"\n')
    assert (found[0].remedy, found[0].where.line) == ("Did you mean [[branch]]?", 2)
    _, found = rows(tmp_path, '[[branch]]\nid = "t1.papadik"\nbase = "pa"\n')
    assert any("change our row “t1.papadic”" in f.remedy for f in found)


def test_rows_of_the_rest_of_the_house_are_left_alone(tmp_path: Path) -> None:
    _, found = rows(tmp_path, '[[formula]]\nid = "own"\nanything = 1\n[[feast]]\nid = "x"\n')
    assert found == []


def test_a_sound_parish_file_has_nothing_to_say(tmp_path: Path) -> None:
    _, found = rows(
        tmp_path,
        LEGETOS + 'incomplete = ["di", "pa", "ga"]\nremark = "so we sing it"\n'
        '[[source]]\nid = "us"\ntext = "our own custom"\n'
        '[[style]]\nid = "papadic"\nchronos_default = 60\nsrc = ["us"]\nconf = "high"\n',
    )
    assert found == []


def test_a_file_that_cannot_be_read_is_one_finding(tmp_path: Path) -> None:
    path, found = rows(tmp_path, '[[branch]\nid = "x"\n')
    assert [(f.level, f.where.file, f.where.line) for f in found] == [("wrong", str(path), 1)]
    missing = check([tmp_path / "nothing.toml"])
    assert "cannot be read" in missing[0].sentence


def test_wrong_ones_come_first(tmp_path: Path) -> None:
    _, found = rows(tmp_path, LEGETOS + 'usual = ["ga", "ke"]\nfinal = ["di"]\n')
    assert [f.level for f in found] == ["wrong", "doubtful"]
