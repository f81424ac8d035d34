"""The programme's own tables: only what differs is kept, and checks feel it at once."""

import pytest

from standlight.errors import NotAllowed, StandlightError
from standlight.passages import SHIPPED_TABLES
from standlight.passages.tables import cells_of, edited
from standlight.programme.actions import checks, folder, roster
from standlight.programme.actions.passages import look_at
from standlight.programme.actions.tables import keep_table, put_table_back
from standlight.programme.models import EditedTable
from standlight.programme.queries.tables import table_page
from standlight.programme.surveys import survey_of
from standlight.programme.table_words import read_rows
from standlight.programme.tables import tables_in_force, tables_of, with_changes
from tests.programme.test_checks import facts
from tests.programme.test_folder import score_of

pytestmark = pytest.mark.django_db

CLARINET = "Clarinet in Bb"


@pytest.fixture
def check(cast):
    """A clarinet on written C4 to F4 (sounding B-flat 3 to E-flat 4), twelve measures."""
    piece = folder.add_score(cast.director, cast.band, score_of(), name="two.musicxml")
    return checks.make_check(cast.director, piece, facts())


def test_a_programme_begins_with_what_ships(cast):
    assert tables_of(cast.programme) == ("", SHIPPED_TABLES)


def test_only_cells_that_differ_are_kept_and_equal_tables_have_one_edition(cast):
    row = cells_of(SHIPPED_TABLES, "ranges")[CLARINET] | {"school_high_midi": 82}
    assert keep_table(cast.director, "ranges", {CLARINET: row}) == 1
    assert EditedTable.objects.get().rows == {CLARINET: {"school_high_midi": 82}}
    edition, tables = tables_of(cast.programme)
    assert tables.ranges[CLARINET].school.high_midi == 82 and len(edition) == 16
    keep_table(cast.director, "weights", {"key": {"weight": 2}})
    assert tables_of(cast.programme)[0] not in ("", edition)
    put_table_back(cast.director, "weights")
    assert tables_of(cast.programme)[0] == edition
    keep_table(cast.director, "ranges", {}, put_back=[CLARINET])
    assert tables_of(cast.programme) == ("", SHIPPED_TABLES)
    assert not EditedTable.objects.exists()


def test_putting_a_row_back_leaves_the_others_and_takes_in_what_was_typed(cast):
    keep_table(cast.director, "weights", {"key": {"weight": 2}, "leaps": {"weight": 0}})
    keep_table(cast.director, "weights", {"breath": {"weight": 0.5}}, put_back=["key"])
    assert EditedTable.objects.get().rows == {"leaps": {"weight": 0.0}, "breath": {"weight": 0.5}}


def test_a_later_edition_of_the_shipped_table_arrives_where_nothing_was_edited():
    kept = {"ranges": {CLARINET: {"school_high_midi": 82}}, "weights": {"key": {"weight": 2}}}
    later = edited(
        SHIPPED_TABLES,
        {"ranges": {CLARINET: {"school_low_midi": 52}, "Oboe": {"school_high_midi": 86}}},
    )
    found = with_changes(kept, later)
    assert (found.tables.ranges[CLARINET].school.low_midi,
            found.tables.ranges[CLARINET].school.high_midi) == (52, 82)  # fmt: skip
    assert found.tables.ranges["Oboe"].school.high_midi == 86
    assert found.fallen == () and found.changes == kept


def test_an_edit_that_no_longer_fits_falls_by_itself_and_is_told(cast):
    later = edited(SHIPPED_TABLES, {"ranges": {CLARINET: {"school_low_midi": 60}}})
    kept = {"ranges": {CLARINET: {"school_high_midi": 55}}, "weights": {"key": {"weight": 2}}}
    found = with_changes(kept, later)
    assert found.tables.ranges[CLARINET] == later.ranges[CLARINET]
    assert found.tables.weights["key"] == 2
    assert len(found.fallen) == 1 and "at Clarinet in Bb" in found.fallen[0]
    EditedTable.objects.create(
        programme=cast.programme, name="weights", rows={"gone": {"weight": 2}}
    )
    assert "'gone'" in table_page(cast.director, "weights").fallen[0]
    keep_table(cast.director, "weights", {"key": {"weight": 3}})
    assert EditedTable.objects.get().rows == {"key": {"weight": 3.0}}


def test_only_the_lead_director_changes_a_table(cast):
    for account in (cast.second_director, cast.musician.account):
        with pytest.raises(NotAllowed, match="lead director"):
            keep_table(account, "weights", {"key": {"weight": 2}})
        with pytest.raises(NotAllowed):
            put_table_back(account, "weights")
    keep_table(cast.outsider_director, "weights", {"key": {"weight": 3}})
    assert tables_of(cast.programme) == ("", SHIPPED_TABLES)
    with pytest.raises(StandlightError, match="no feature counts"):
        nothing = {key: {"weight": 0} for key in SHIPPED_TABLES.weights}
        keep_table(cast.director, "weights", nothing)


def test_typed_rows_are_read_as_written_pitch_and_each_slip_names_its_row():
    read = read_rows(
        "ranges",
        {
            CLARINET: {"school_low_midi": "f#3", "school_high_midi": "B♭5"},
            "Flute": {"school_low_midi": "H4"},
            "Oboe": {"school_low_midi": "C7", "school_high_midi": "C4"},
            "Horn in F": {"grade1_low_midi": " ", "grade1_high_midi": ""},
        },
    )
    # A B-flat clarinet sounds a whole tone lower: F-sharp 3 is E3 (52), B-flat 5 is A-flat 5 (80).
    assert read.rows == {
        CLARINET: {"school_low_midi": 52, "school_high_midi": 80},
        "Horn in F": {"grade1_low_midi": None, "grade1_high_midi": None},
    }
    assert [slip.row for slip in read.slips] == ["Flute", "Oboe"]
    assert "'H4' is no pitch, at Flute, school range, lowest note" in read.slips[0].sentence
    assert "runs from C7 down to C4, at Oboe" in read.slips[1].sentence
    assert read_rows("weights", {"key": {"weight": "7"}}).slips[0].sentence.startswith(
        "'7' is no choice, at key, weight"
    )


def test_a_check_s_survey_uses_the_tables_at_once_and_is_kept_while_they_stay(cast, check):
    part = check.piece.parts.get(name=CLARINET)
    first = survey_of(check)
    assert survey_of(check) is first
    assert look_at(check, part, 0, 3).flags == ()
    # Written E4, sounding D4 (62): the F4 of every measure lies above.
    cells = {**cells_of(SHIPPED_TABLES, "ranges")[CLARINET], "school_high_midi": 62}
    keep_table(cast.director, "ranges", {CLARINET: cells})
    assert survey_of(check) is not first
    assert look_at(check, part, 0, 3).flags == (
        "Four notes above the school range (written E4).",
    )
    put_table_back(cast.director, "ranges")
    assert survey_of(check) is first


def test_a_proposal_made_anew_has_the_demand_of_the_edited_weights(cast):
    from tests.programme.test_folder import LANTERN

    piece = folder.add_score(cast.director, cast.band, LANTERN.read_bytes(), name="l.musicxml")
    check = checks.make_check(cast.director, piece, facts(criteria=("rhythm", "notes", "pulse")))
    part = check.passages.get(part__instrument=CLARINET, demand__isnull=False).part
    place = check.passages.get(part=part)
    before = look_at(check, part, place.first_measure, place.last_measure).demand
    assert before == pytest.approx(place.demand)
    quiet = {key: {"weight": 0} for key in SHIPPED_TABLES.weights if key != "note_rate"}
    keep_table(cast.director, "weights", quiet)
    after = look_at(check, part, place.first_measure, place.last_measure).demand
    assert after != pytest.approx(before)
    assert check.passages.get(part=part).demand == pytest.approx(before)  # as it was proposed
    checks.propose_again(cast.director, check)
    again = check.passages.get(part=part)
    seen = look_at(check, part, again.first_measure, again.last_measure)
    assert again.demand == pytest.approx(seen.demand)


def test_the_grade_of_the_group_s_music_flags_what_goes_beyond_it(cast, check):
    part = check.piece.parts.get(name=CLARINET)
    keep_table(cast.director, "grades", {"1": {"shortest_value_quarters": "1"}})
    assert look_at(check, part, 0, 3).flags == ()
    roster.change_ensemble(cast.director, cast.band, "Concert Band", "band", 3, 42, 1)
    check.refresh_from_db()
    assert look_at(check, part, 0, 3).flags == (
        "Beyond grade 1: values shorter than quarter notes.",
    )
    with pytest.raises(StandlightError, match="grade 6 of music is not in the table"):
        roster.change_ensemble(cast.director, cast.band, "Concert Band", "band", 3, 42, 6)
    assert roster.make_ensemble(cast.director, "Duo", "band", 1, 42).music_grade is None


def test_the_page_puts_the_programme_s_instruments_first_and_folds_the_rest(cast):
    page = table_page(cast.director, "ranges")
    assert [line.key for line in page.lines] == [CLARINET, "Soprano"]
    assert [line.key for line in table_page(cast.second_director, "ranges").lines] == [CLARINET]
    assert len(page.lines) + len(page.folded) == len(SHIPPED_TABLES.ranges)
    assert not page.folded_open and page.n_changed == 0 and page.may_change
    keep_table(cast.director, "ranges", {"Oboe": {"school_high_midi": 86}})
    assert table_page(cast.director, "ranges").folded_open
    clarinet = page.lines[0].pairs[0]
    # Written E3 to C7 (two or more printed charts) sounds a whole tone lower.
    assert (clarinet.low.text, clarinet.high.text, clarinet.sounds) == ("E3", "C7", "D3 to Bb6")
    everything = table_page(cast.outsider_director, "grades")
    assert everything.folded == () and [line.key for line in everything.lines] == list("12345")


def test_the_page_of_ranges_asks_two_queries(cast, django_assert_num_queries):
    account = type(cast.director).objects.select_related("programme").get(pk=cast.director.pk)
    with django_assert_num_queries(2):
        page = table_page(account, "ranges")
    assert page.lines and page.stages


def test_every_table_reads_back_what_its_page_shows(cast):
    for name in ("ranges", "grades", "weights"):
        page = table_page(cast.director, name)
        typed: dict[str, dict[str, str]] = {}
        for line in (*page.lines, *page.folded):
            ends = [field for pair in line.pairs for field in (pair.low, pair.high)]
            for field in (*line.fields, *ends):
                typed.setdefault(line.key, {})[field.name.partition(":")[0]] = field.text
        read = read_rows(name, typed)
        assert read.slips == ()
        assert read.rows == cells_of(SHIPPED_TABLES, name)
        assert keep_table(cast.director, name, read.rows) == 0
    assert tables_in_force(cast.programme).changes == {}
