"""What is refused, what is mended: hostile and broken files."""

import zipfile
from io import BytesIO

import pytest
from tests.scores import real, suite

from standlight.errors import UnreadableScore
from standlight.score import container, read_score

PLAIN = (
    b'<score-partwise><part-list><score-part id="P1"><part-name>Fl\xc3\xb6te</part-name>'
    b'</score-part></part-list><part id="P1"><measure number="1"><note><pitch>'
    b"<step>C</step><octave>5</octave></pitch><duration>1</duration></note></measure></part></score-partwise>"
)


def packed(**files: bytes) -> bytes:
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return out.getvalue()


def codes(data: bytes) -> set[str]:
    score = read_score(data)
    assert [note.midi for note in score.parts[0].notes] == [72]
    assert score.parts[0].name == "Flöte"
    return {remark.code for remark in score.remarks}


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b"   \n", "empty"),
        (b"just some words", "not XML"),
        (b"%PDF-1.7\n1 0 obj <<>>", "not XML|first element"),
        (b"MThd\x00\x00\x00\x06", "MIDI"),
        (b"<html><body>no</body></html>", "<html>, not a score"),
        (b"<score-partwise><part-list/></score-partwise>", "no part"),
        (b"PK\x03\x04 cut off", "damaged"),
    ],
)
def test_what_is_no_score_is_refused_with_a_sentence(data, says):
    with pytest.raises(UnreadableScore, match=says):
        read_score(data)


def test_a_billion_laughs_is_refused_before_it_is_expanded():
    laughs = b'<!DOCTYPE score-partwise [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>' + PLAIN
    with pytest.raises(UnreadableScore, match="entities"):
        read_score(laughs)


def test_an_entity_that_names_a_file_is_refused():
    outside = b'<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/hostname">]>' + PLAIN
    with pytest.raises(UnreadableScore, match="entities"):
        read_score(outside)


def test_entities_hidden_in_utf_16_are_refused_too():
    text = '<?xml version="1.0" encoding="UTF-16"?><!DOCTYPE x [<!ENTITY a "ha">]>' + PLAIN.decode()
    with pytest.raises(UnreadableScore, match="entities"):
        read_score(text.encode("utf-16"))


def test_a_huge_file_is_refused(monkeypatch):
    monkeypatch.setattr(container, "LARGEST_SCORE_BYTES", 100)
    with pytest.raises(UnreadableScore, match="more than the 100 allowed"):
        read_score(PLAIN)


def test_a_packed_file_that_unpacks_to_too_much_is_refused():
    bomb = packed(**{"score.xml": b" " * (container.LARGEST_SCORE_BYTES + 1)})
    assert len(bomb) < 100_000
    with pytest.raises(UnreadableScore, match="unpacks to more"):
        read_score(bomb)


def test_a_packed_file_with_thousands_of_entries_is_refused():
    with pytest.raises(UnreadableScore, match="501 files"):
        read_score(packed(**{f"{number}.xml": PLAIN for number in range(501)}))


def test_a_packed_file_cut_off_anywhere_is_refused():
    whole = real("hensel_op3_1.mxl")
    for length in (30, 200, len(whole) // 2, len(whole) - 10):
        with pytest.raises(UnreadableScore, match="damaged"):
            read_score(whole[:length])


def test_a_packed_file_without_contents_is_read_with_a_remark():
    assert codes(packed(**{"inside.musicxml": PLAIN})) == {"container"}


def test_a_packed_file_without_a_score_is_refused():
    with pytest.raises(UnreadableScore, match="holds no score"):
        read_score(packed(**{"letter.txt": b"hello"}))


def test_byte_order_marks_and_wrong_declarations_do_no_harm():
    declared = b'<?xml version="1.0" encoding="%s"?>' + PLAIN
    assert codes(b"\xef\xbb\xbf" + PLAIN) == set()
    assert codes((declared % b"UTF-16").decode().encode("utf-16")) == set()
    assert codes(declared % b"UTF-16") == {"encoding"}
    latin = PLAIN.decode().encode("latin-1")
    assert codes(b'<?xml version="1.0" encoding="UTF-8"?>' + latin) == {"encoding"}
    assert codes(b'<?xml version="1.0" encoding="ISO-8859-1"?>' + latin) == set()


def test_bytes_before_the_declaration_are_skipped_with_a_remark():
    assert codes(b"garbage " + b'<?xml version="1.0"?>' + PLAIN) == {"leading_bytes"}


def test_damaged_xml_is_mended_with_a_remark_that_names_the_line():
    damaged = suite("45b").replace(b"</measure>", b"", 1)
    score = read_score(damaged)
    assert "malformed" in {remark.code for remark in score.remarks}


def test_a_namespace_is_dropped_with_a_remark():
    named = PLAIN.replace(b"<score-partwise>", b'<score-partwise xmlns="http://example.org/x">')
    assert codes(named) == {"namespace"}


def test_the_network_and_the_named_document_type_are_left_alone():
    typed = (
        b'<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 3.0 Partwise//EN"'
        b' "http://127.0.0.1:9/partwise.dtd">' + PLAIN
    )
    assert codes(typed) == set()
