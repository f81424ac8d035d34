"""A musician's own version: set, read against, cut again, taken away, and never after sending."""

import pytest
from django.utils import timezone
from django_q.models import OrmQ

from standlight.errors import NotAllowed, StandlightError
from standlight.listening import listen
from standlight.programme import store
from standlight.programme.actions.shifting import (
    set_own_version,
    set_part_version,
    versions_again,
    wishes_again,
    wishes_of,
)
from standlight.programme.models import OwnVersion, Report, Take, Turn
from standlight.programme.queries.desk import desk_page
from standlight.programme.queries.hearing import listening_task
from standlight.programme.queries.my_check import check_page, notation_of
from standlight.score import line_to_musicxml, read_passage
from tests.browser.conftest import as_wav
from tests.hearing_scene import RECORDING, clarinet_check, more_clarinets
from tests.web import scene

pytestmark = pytest.mark.django_db

OTHER_KEY = "transposed"
"""The listening's verdict on a take that sounds in another key than written."""


@pytest.fixture
def check(cast):
    """A singing check with one soprano passage, G4 to D5, and the cast's singer on it."""
    return scene.publish(cast, musician=cast.singer, group=cast.choir)


@pytest.fixture
def passage(check):
    return check.passages.get()


def sounding(digest):
    return [note.midi for note in read_passage(store.fetch(digest)).notes]


def take_of(check, musician, *, state=Take.WHOLE, sound=b"sound", sent=False):
    turn, _ = Turn.objects.get_or_create(check_row=check, musician=musician)
    if sent:
        Turn.objects.filter(pk=turn.pk).update(sent_at=timezone.now())
    return Take.objects.create(turn=turn, state=state, digest=store.keep(sound), chosen=True)


def test_the_musician_sees_hears_and_is_read_against_their_own_version(
    cast, check, passage, django_capture_on_commit_callbacks
):
    before = sounding(passage.notation_digest)
    plain = check_page(cast.singer.account, check)
    with django_capture_on_commit_callbacks(execute=True):
        version = set_own_version(cast.director, passage, cast.singer, -12)
    assert OrmQ.objects.get().task["args"] == ([version.notation_digest],)
    assert sounding(version.notation_digest) == [midi - 12 for midi in before]
    assert notation_of(cast.singer.account, check) == version.notation_digest
    page = check_page(cast.singer.account, check)
    assert page.own_version == "an octave lower" and plain.own_version == ""
    # An octave lower is half the frequency (ISO 16 names A4; an octave is 2 to 1).
    assert page.starting_sound.tones_hz[-1] == pytest.approx(plain.starting_sound.tones_hz[-1] / 2)
    take = take_of(check, cast.singer)
    assert listening_task(take.key).notation == store.fetch(version.notation_digest)


def test_nobody_else_s_passage_is_changed_and_zero_takes_the_version_away(cast, check, passage):
    digest = passage.notation_digest
    set_own_version(cast.director, passage, cast.singer, 3)
    passage.refresh_from_db()
    assert passage.notation_digest == digest
    # A change of mind starts from the passage, not from the version.
    set_own_version(cast.director, passage, cast.singer, -2)
    assert sounding(OwnVersion.objects.get().notation_digest) == [
        midi - 2 for midi in sounding(digest)
    ]
    assert set_own_version(cast.director, passage, cast.singer, 0) is None
    assert notation_of(cast.singer.account, check) == digest


def test_after_sending_the_version_stays_as_it_was_sung(cast, check, passage):
    set_own_version(cast.director, passage, cast.singer, -12)
    take_of(check, cast.singer, sent=True)
    for semitones in (-2, 0):
        with pytest.raises(NotAllowed, match="already sent"):
            set_own_version(cast.director, passage, cast.singer, semitones)
    assert OwnVersion.objects.get().semitones == -12


def test_only_the_group_s_director_sets_it_and_only_for_who_has_the_part(cast, check, passage):
    for account in (cast.second_director, cast.outsider_director, cast.singer.account):
        with pytest.raises(NotAllowed):
            set_own_version(account, passage, cast.singer, -12)
        with pytest.raises(NotAllowed):
            set_part_version(account, passage, -12)
    with pytest.raises(NotAllowed, match="does not have this part"):
        set_own_version(cast.director, passage, cast.musician, -12)
    assert not OwnVersion.objects.exists()


def test_a_version_is_seen_by_its_singer_and_the_directors_of_the_group(cast, check, passage):
    set_own_version(cast.director, passage, cast.singer, -12)
    seen = {
        account.shown_name: OwnVersion.objects.visible_to(account).count()
        for account in (cast.director, cast.singer.account, cast.second_director,
                        cast.musician.account, cast.outsider_director)
    }  # fmt: skip
    assert list(seen.values()) == [1, 1, 0, 0, 0]


def test_a_whole_part_is_set_at_once_but_for_those_who_have_sent(cast):
    check = clarinet_check(cast)
    first, second = more_clarinets(cast, check, 2)
    take_of(check, first, sent=True)
    assert set_part_version(cast.director, check.passages.get(), -2) == 2
    assert set(OwnVersion.objects.values_list("musician", "semitones")) == {
        (cast.musician.pk, -2),
        (second.pk, -2),
    }
    assert set_part_version(cast.director, check.passages.get(), 0) == 2
    assert not OwnVersion.objects.exists()


def test_when_the_passage_is_cut_again_so_are_its_versions(cast, check, passage):
    set_own_version(cast.director, passage, cast.singer, -3)
    passage.notation_digest = store.keep(line_to_musicxml("C5 q D5 E5 F5", instrument="Soprano"))
    passage.save()
    assert versions_again([passage]) == 1
    # C5, D5, E5 and F5 are 72, 74, 76 and 77; a minor third is three semitones.
    assert sounding(OwnVersion.objects.get().notation_digest) == [69, 71, 73, 74]
    passage.notation_digest = ""
    assert versions_again([passage]) == 0 and not OwnVersion.objects.exists()


def test_wishes_outlive_passages_that_are_proposed_anew(cast, check, passage):
    set_own_version(cast.director, passage, cast.singer, -12)
    wishes = wishes_of(check)
    part, digest = passage.part, passage.notation_digest
    passage.delete()
    assert not OwnVersion.objects.exists()
    check.passages.create(part=part, notation_digest=digest)
    assert wishes_again(check, wishes) == 1
    version = OwnVersion.objects.get()
    assert (version.musician, version.semitones, version.asked_by) == (
        cast.singer, -12, cast.director,
    )  # fmt: skip


def test_paper_and_strokes_are_refused_in_a_sentence(cast, passage):
    drums = scene.publish(cast, musician=cast.second_musician, title="Drums")
    with pytest.raises(StandlightError, match="no pitches"):
        set_own_version(cast.director, drums.passages.get(), cast.second_musician, -12)
    passage.notation_digest = ""
    with pytest.raises(StandlightError, match="on paper only"):
        set_own_version(cast.director, passage, cast.singer, -12)
    assert not OwnVersion.objects.exists()


def test_takes_kept_but_not_sent_are_read_again(cast, check, passage):
    take = take_of(check, cast.singer, state=Take.HEARD)
    Report.objects.create(take=take, method="m", body={})
    set_own_version(cast.director, passage, cast.singer, -12)
    take.refresh_from_db()
    assert take.state == Take.WHOLE and not take.reports.exists()


HIGHER = (
    "time 4/4 tempo 84 C#5 q C#5 q D5 q E5 q | E5 q D5 q C#5 q B4 q | "
    "A4 q A4 q B4 q C#5 q | C#5 q. B4 e B4 h"
)
"""`tests.hearing_scene.TUNE` a whole tone higher than the recording plays."""


def test_a_real_take_is_read_against_its_own_version(cast, tmp_path):
    check = clarinet_check(cast)
    passage = check.passages.get()
    passage.notation_digest = store.keep(line_to_musicxml(HIGHER, instrument="Clarinet in Bb"))
    passage.save()
    sound = as_wav(RECORDING, tmp_path / "take.wav").read_bytes()
    take = take_of(check, cast.musician, sound=sound)
    as_cut = listen(listening_task(take.key))
    set_own_version(cast.director, passage, cast.musician, -2)
    own = listen(listening_task(take.key))
    # Against the passage the take is in another key; against the musician's version it is not.
    assert OTHER_KEY in [verdict.code for verdict in as_cut.verdicts]
    assert OTHER_KEY not in [verdict.code for verdict in own.verdicts]
    assert [note.outcome for note in own.notes] == ["played"] * 15


def test_the_desk_shows_and_says_the_version(cast, check, passage, monkeypatch):
    shown = []
    monkeypatch.setattr(
        "standlight.programme.queries.desk.svg_of",
        lambda digest, **more: shown.append(digest) or "<svg/>",
    )
    version = set_own_version(cast.director, passage, cast.singer, -12)
    take = take_of(check, cast.singer, sent=True)
    page = desk_page(cast.director, take.turn)
    assert set(shown) == {version.notation_digest}
    assert page.passage.endswith("an octave lower for this musician")
