from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from panelscan.errors import InputError
from panelscan.finder.beats import Beat, Shape, Shot, Weight
from panelscan.finder.scene import SceneError, decode_text, read_scene, scene_from_text
from panelscan.finder.scene_words import count_words, whole_number

TEXT = """# The lock house, at night

Rain on the lock house roof [establishing, wide, silent]
Ilse counts the keys: "One is missing." [medium, keep with next]
Dov: "Which one?" Ilse: "Yours." [close-up, small]
The door stands open [reveal, big, 12 words, tall]
"""

TABLE = """what happens,words,weight,shot,shape,silent,reveal,keep with next
Rain on the lock house roof,,,establishing,wide,x,,
Ilse counts the keys,One is missing.,,medium,,,,yes
Dov asks,Which one? / Yours.,small,close-up,,,,
The door stands open,12,big,,tall,,yes,
"""


def facts(beat):
    return (
        beat.words,
        beat.balloons,
        beat.weight,
        beat.shot,
        beat.shape,
        beat.silent,
        beat.reveal,
        beat.keep_with_next,
    )


def test_text_and_table_say_the_same():
    text, table = scene_from_text(TEXT), scene_from_text(TABLE)
    assert [facts(b) for b in text.beats] == [facts(b) for b in table.beats]
    assert facts(text.beats[2])[:4] == (3, (2, 1), Weight.SMALL, Shot.CLOSE_UP)
    assert text.beats[3].shape is Shape.TALL and text.beats[3].reveal
    assert [b.line for b in text.beats] == [3, 4, 5, 6]
    assert [b.line for b in table.beats] == [2, 3, 4, 5]


@pytest.mark.parametrize(
    "change",
    [
        lambda t: "\ufeff" + t,
        lambda t: t.replace(",", ";"),
        lambda t: "sep=;\n" + t.replace(",", ";"),
        lambda t: t.replace(",", "\t"),
        lambda t: t.replace("\n", "\r\n"),
        lambda t: t.replace("\n", "\n,,,,,,,\n"),
        lambda t: "\n".join(line + ",,," if line else line for line in t.split("\n")),
        lambda t: t.replace("what happens", " What Happens ").replace("weight", "WEIGHT"),
        lambda t: t.replace(",12,", ',"12,0",'),
    ],
)
def test_table_takes_spreadsheet_habits(change, tmp_path):
    path = tmp_path / "scene.csv"
    path.write_bytes(change(TABLE).encode("utf-8"))
    assert [facts(b) for b in read_scene(path).beats] == [
        facts(b) for b in scene_from_text(TABLE).beats
    ]


@pytest.mark.parametrize("encoding", ["utf-16", "utf-8-sig", "utf-8"])
def test_text_is_read_in_any_unicode_form(encoding, tmp_path):
    path = tmp_path / "scene.txt"
    path.write_bytes('Über der Schleuse: "Los!"\n'.encode(encoding))
    assert read_scene(path).beats[0].words == 1


def test_old_windows_text_is_read_and_said_to_be():
    text, notes = decode_text("Über".encode("cp1252"), "scene.txt")
    assert text == "Über" and "Windows-1252" in notes[0]


def test_lines_count_over_cells_with_line_breaks():
    scene = scene_from_text('what happens,words\n"Ilse\nwaits",3\nDov runs,4\n')
    assert [(b.text, b.line) for b in scene.beats] == [("Ilse waits", 2), ("Dov runs", 4)]


@pytest.mark.parametrize(
    ("text", "line", "column", "says"),
    [
        ("A knock [wied]", 1, 10, "Did you mean 'wide'?"),
        ("Rain\nA knock [wide, tall]", 2, 16, "otherwise than a mark before"),
        ("A knock [wide", 1, 9, "not closed"),
        ("A knock wide]", 1, 13, "not opened"),
        ("[wide]", 1, 1, "Nothing is said"),
        ('"Hm." [silent]', 1, 8, "silent beat has 1 words"),
        ("what happens,words\nA knock,-3", 2, 2, "column B (words): '-3' is no number"),
        ("what happens,words\nA knock,3\nRain,2.5", 3, 2, "'2.5' is no number"),
        ("what happens,weight\nA knock,hugee", 2, 2, "Write small, normal or big"),
        ("what happens,shot,silent\nA knock,far,", 2, 2, "'far' is no shot"),
        ("what happens,reveal,words\nA knock,maybe,", 2, 2, "neither yes nor no"),
        ("what happens,words,silent\nA knock,4,x", 2, 2, "A silent beat has 4 words"),
        ("what happens,words,lettering\nA knock,4,x", 1, 3, "second column"),
        ("words,weight\n4,big", 1, 1, "No column is headed 'what happens'"),
        ("what,wrods,shot\nA knock,3,", 1, 2, "Did you mean 'words'?"),
        ("what happens,words\nA speech,260", 2, 2, "One beat of 260 words can never fit"),
        ("A speech [wide, 260 words]", 1, 11, "Part it in several beats"),
        ("A knock [keep]\nThe door [reveal]", 2, 1, "must open after a page turn"),
    ],
)
def test_faults_name_line_and_column_and_what_to_change(text, line, column, says):
    with pytest.raises(SceneError, match="line") as caught:
        scene_from_text(text, "scene.txt")
    problem = caught.value.problems[0]
    assert (problem.line, problem.column) == (line, column)
    assert says in str(problem)
    assert problem.change and str(caught.value).startswith("scene.txt, line")
    assert caught.value.exit_code == 3


def test_all_faults_are_told_at_once():
    with pytest.raises(SceneError) as caught:
        scene_from_text("\n".join(f"Beat {n} [nonsense]" for n in range(12)))
    assert len(caught.value.problems) == 12
    assert "4 more places" in str(caught.value)


@pytest.mark.parametrize("content", ["", "\n\n", "# only a remark\n", "what happens,words\n,,\n"])
def test_empty_scene_is_refused_with_an_example(content, tmp_path):
    path = tmp_path / ("scene.csv" if "," in content else "scene.txt")
    path.write_text(content)
    with pytest.raises(InputError, match="no beat was found"):
        read_scene(path)


def test_what_is_no_text_is_refused(tmp_path):
    sheet = tmp_path / "scene.csv"
    sheet.write_bytes(b"PK\x03\x04rest")
    with pytest.raises(InputError, match="Save the sheet as CSV"):
        read_scene(sheet)
    sheet.write_bytes(b"\x89PNG\x00\x00")
    with pytest.raises(InputError, match="not a text file"):
        read_scene(sheet)
    with pytest.raises(InputError, match="no such file"):
        read_scene(tmp_path / "missing.txt")
    with pytest.raises(InputError, match="folder"):
        read_scene(tmp_path)


def test_keep_on_the_last_beat_is_passed_over_with_a_note():
    scene = scene_from_text("Rain [keep]")
    assert not scene.beats[-1].keep_with_next and scene.notes


@given(st.text(max_size=200))
@settings(deadline=None)
def test_any_text_gives_a_scene_or_a_clear_error(text):
    try:
        scene = scene_from_text(text)
    except InputError as error:
        assert str(error)
    else:
        assert all(b.text and b.line > 0 for b in scene.beats)


@given(st.integers(0, 10_000))
@settings(deadline=None)
def test_numbers_are_read_as_written(number):
    forms = (f"{number}", f" {number}.0", f"{number},00", f"{number} words")
    assert {whole_number(form) for form in forms} == {number}


def test_word_count_by_hand():
    assert count_words("Don't -- you'll wake Dov (again)!") == 5
    assert count_words("…?!") == 0


def test_beats_joined_in_one_panel():
    first = Beat("She runs", words=4, shot=Shot.CLOSE_UP, weight=Weight.SMALL)
    both = first.joined(Beat("Rain", words=3, shot=Shot.LONG, weight=Weight.SMALL))
    assert (both.words, both.shot, both.weight) == (7, Shot.LONG, Weight.NORMAL)


def test_bad_beats_are_refused():
    with pytest.raises(ValueError, match="silent"):
        Beat("x", words=1, silent=True)
    with pytest.raises(ValueError, match="fewer"):
        Beat("x", words=-1)
