"""Rows of levels in the editor of a kind: typed, moved, removed, refused with their sentences."""

import pytest

from standlight.kinds import KINDS
from standlight.programme.kind_reading import read_kind
from standlight.programme.kind_typed import pressed, typed_of
from standlight.programme.models import KindEdition
from standlight.programme.queries.kinds import kind_in
from tests.web.scene import sign_in
from tests.web.test_kinds import fields_of, words_of

pytestmark = pytest.mark.django_db

FINDS, PROJECT = "/work/kinds/of/finds/", "/work/kinds/of/skill_project/"
SAID = ("No word of it.", "One word of it.", "A place in it.", "A place, and why.")


def row(number, name="Ears", question="What was heard?", said=SAID, key=""):
    path = f"r{number}"
    return {
        f"{path}.key": [key], f"{path}.name": [name], f"{path}.question": [question],
        **{f"{path}.level{level}": [text] for level, text in enumerate(said, start=1)},
    }  # fmt: skip


def typed_in(sent):
    """What a director typed: not what was removed last, nor which parts are folded out."""
    return {
        name: value for name, value in sent.items() if name != "bin" and ".open" not in name
    }


def newest(key):
    return kind_in(KindEdition.objects.filter(key=key).order_by("edition").last())


def test_a_row_is_added_typed_and_kept_with_a_key_made_from_its_name(client, cast):
    sign_in(client, cast.director)
    sent = fields_of(client.get(FINDS)) | {"press": ["add:r"]}
    answer = client.post(FINDS, sent)
    sent = fields_of(answer)
    assert [name for name in sent if name.startswith("r1.level")] == [
        f"r1.level{level}" for level in (1, 2, 3, 4)
    ]
    page = words_of(answer)
    for word in ("Beginning", "Developing", "Secure", "Extending"):
        assert word in page
    assert "is kept" in words_of(client.post(FINDS, sent | row(1), follow=True))
    (kept,) = newest("finds").rubric
    assert (kept.key, kept.name, kept.question) == ("ears", "Ears", "What was heard?")
    assert kept.descriptors == SAID and kept.steps == ()
    again = fields_of(client.get(FINDS)) | {"r1.name": ["Sharp ears"]}
    client.post(FINDS, again)
    assert (newest("finds").rubric[0].key, newest("finds").rubric[0].name) == ("ears", "Sharp ears")


def test_what_is_missing_in_a_row_is_told_at_the_row_and_nothing_typed_is_lost(client, cast):
    sign_in(client, cast.director)
    told = row(1) | row(2, name=" ", said=("Some.", "some.", "", "x" * 401))
    answer = client.post(FINDS, fields_of(client.get(FINDS)) | told)
    page = words_of(answer)
    assert answer.status_code == 422
    for said in (
        "The row “2” of the rubric has no name",
        "The row “2” of the rubric has no sentence for Secure",
        "The row “2” of the rubric has no sentence for Extending, or one of more than 400",
        "The row “2” of the rubric says the same of two levels",
    ):
        assert said in page, said
    markup = answer.content.decode()
    assert 'href="#r2"' in markup and 'href="#r1"' not in markup and 'id="r2"' in markup
    kept = fields_of(answer)
    assert {name: kept[name] for name in told} == told
    assert not KindEdition.objects.filter(edition=2).exists()


def test_levels_of_what_never_counts_in_a_mark_are_refused_in_a_sentence(client, cast):
    sign_in(client, cast.director)
    address = "/work/kinds/of/ensemble_acts/"
    answer = client.post(address, fields_of(client.get(address)) | row(1))
    assert answer.status_code == 422
    assert "What never counts in a mark is given no levels" in words_of(answer)
    assert fields_of(answer)["r1.level4"] == ["A place, and why."]


def test_a_row_is_moved_removed_and_put_back_where_it_was(client, cast):
    sign_in(client, cast.director)
    before = fields_of(client.get(PROJECT))
    moved = fields_of(client.post(PROJECT, before | {"press": ["down:r1"]}))
    order = [name for name in moved if name[:1] == "r" and name.endswith(".key")]
    assert [moved[name] for name in order] == [["evidence"], ["goal"], ["learned"]]
    answer = client.post(PROJECT, before | {"press": ["remove:r2"]})
    gone = fields_of(answer)
    assert "r2.key" not in gone and "Put back “Evidence”" in words_of(answer)
    back = fields_of(client.post(PROJECT, gone | {"press": ["put-back:"]}))
    assert list(typed_in(back).items()) == list(typed_in(before).items())


def test_a_hard_sentence_gets_a_soft_hint(client, cast):
    sign_in(client, cast.director)
    hard = "Demonstrates considerable sophistication regarding interpretative characteristics."
    answer = client.post(
        FINDS, fields_of(client.get(FINDS)) | row(1, said=(hard, *SAID[1:])) | {"press": ["look"]}
    )
    assert words_of(answer).count("Shorter words or two short sentences") == 1


def test_a_row_keeps_to_its_steps_when_they_move_and_forgets_those_that_go():
    typed = typed_of(KINDS["skill_project"], 1)
    assert [one.steps for one in typed.rubric] == [("s1",), ("s2", "s3", "s4"), ("s3", "s4")]
    moved = pressed(typed, "down:s1").kind
    read = read_kind(moved, ())
    assert read.faults == ()
    assert [one["key"] for one in read.data["steps"]] == ["first", "goal", "check_in", "last"]
    assert read.data["rubric"][0]["steps"] == ["goal"]
    fewer = read_kind(pressed(typed, "remove:s3").kind, ())
    assert fewer.faults == ()
    assert [row["steps"] for row in fewer.data["rubric"]] == [["goal"], ["first", "last"], ["last"]]


def test_the_steps_that_a_director_fills_are_ticked_kept_and_put_aside_without_a_side(client, cast):
    sign_in(client, cast.director)
    address = "/work/kinds/of/adjudication/"
    sent = fields_of(client.get(address))
    ticked = [name for name in sent if name.endswith(".director")]
    assert ticked == ["s2.director", "s3.director"]
    client.post(address, sent | {"s4.director": ["yes"]})
    assert newest("adjudication").director_steps == ("practice", "judge", "after")
    client.post(address, fields_of(client.get(address)) | {"director_side": [""]})
    kind = newest("adjudication")
    assert (kind.director_side, kind.director_steps) == ("", ())


@pytest.mark.parametrize("press", ["up:r9", "down:r", "add:r1.q", "add:r1.r", "remove:r1.x"])
def test_a_press_that_no_row_has_changes_nothing(client, cast, press):
    sign_in(client, cast.director)
    before = fields_of(client.get(PROJECT))
    answer = client.post(PROJECT, before | {"press": [press]})
    assert answer.status_code == 200
    assert typed_in(fields_of(answer)) == typed_in(before)
