"""The editor of kinds: who opens it, that a form sent as it stands changes nothing, bad input."""

import html
import re
from html.parser import HTMLParser

import pytest

from standlight.kinds import KINDS
from standlight.kinds.definitions import MOST_FIELDS, MOST_STEPS
from standlight.programme.models import KindEdition
from standlight.programme.queries.kinds import kind_in, latest_kinds
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db

NEW = "/work/kinds/new/"
PAGES = ("/work/kinds/", NEW, "/work/kinds/of/finds/", f"{NEW}?from=finds")
POSTS = (NEW, "/work/kinds/preview/", "/work/kinds/of/finds/", "/work/kinds/of/finds/put-away/")


class Fields(HTMLParser):
    """What a browser would send of the form of a page, in the order of the page."""

    def __init__(self):
        super().__init__()
        self.sent, self.inside, self.select, self.text = {}, False, None, None

    def handle_starttag(self, tag, attrs):
        cells = dict(attrs)
        if tag == "form":
            self.inside = cells.get("id") == "kind-form"
        if not self.inside:
            return
        name = cells.get("name")
        kind = cells.get("type")
        if tag == "input" and name and (
            kind not in ("checkbox", "radio") or "checked" in cells
        ):
            self.put(name, cells.get("value", "on"))
        elif tag == "select":
            self.select = name
        elif tag == "option" and "selected" in cells:
            self.put(self.select, cells["value"])
        elif tag == "textarea":
            self.text = [name, ""]

    def handle_data(self, data):
        if self.text:
            self.text[1] += data

    def handle_endtag(self, tag):
        if tag == "form":
            self.inside = False
        elif tag == "textarea" and self.text:
            self.put(self.text[0], self.text[1].removeprefix("\n"))
            self.text = None

    def put(self, name, value):
        self.sent.setdefault(name, []).append(value)


def fields_of(answer):
    reader = Fields()
    reader.feed(answer.content.decode())
    assert "name" in reader.sent
    reader.sent.pop("csrfmiddlewaretoken", None)
    return reader.sent


def words_of(answer):
    return html.unescape(re.sub(r"<[^>]*>", " ", answer.content.decode()))


def test_no_musician_and_nobody_signed_out_finds_the_kinds(client, cast):
    for ask, addresses in ((client.get, PAGES), (client.post, POSTS)):
        for address in addresses:
            assert ask(address)["Location"].startswith("/sign-in/"), address
    for who in (cast.musician, cast.singer, cast.outsider_musician):
        sign_in(client, who.account)
        for address in PAGES:
            assert client.get(address).status_code == 404, address
        for address in POSTS:
            assert client.post(address, {"name": "X"}).status_code == 404, address
    assert not KindEdition.objects.exists()


def test_every_director_opens_them_and_a_kind_of_another_school_is_not_there(client, cast):
    sign_in(client, cast.outsider_director)
    sent = fields_of(client.get(NEW)) | {"name": ["Their own"], "aim": ["Try it."]}
    sent["s1.q1.prompt"] = ["What?"]
    assert client.post(NEW, sent).status_code == 302
    assert client.get("/work/kinds/of/their_own/").status_code == 200
    for account in (cast.director, cast.second_director):
        sign_in(client, account)
        for address in PAGES:
            assert client.get(address).status_code == 200, address
        for address in ("/work/kinds/of/their_own/", f"{NEW}?from=their_own"):
            assert client.get(address).status_code == 404
        assert client.post("/work/kinds/of/their_own/put-away/").status_code == 404


@pytest.mark.parametrize("key", KINDS)
def test_a_form_sent_as_it_stands_changes_nothing(client, cast, key):
    sign_in(client, cast.director)
    address = f"/work/kinds/of/{key}/"
    answer = client.post(address, fields_of(client.get(address)), follow=True)
    assert "nothing was changed" in words_of(answer)
    row = KindEdition.objects.get()
    assert (row.edition, kind_in(row)) == (1, KINDS[key])


def test_a_change_is_an_edition_with_the_keys_it_had_and_new_keys_made_from_words(client, cast):
    sign_in(client, cast.director)
    address = "/work/kinds/of/finds/"
    sent = fields_of(client.get(address)) | {"press": ["add:s1.q"]}
    answer = client.post(address, sent)
    sent = fields_of(answer)
    new = [name for name in sent if name.endswith(".prompt") and sent[name] == [""]]
    assert new == [f"s1.q{len(KINDS['finds'].steps[0].fields) + 1}.prompt"]
    assert f'id="{new[0]}"' in answer.content.decode() and not KindEdition.objects.exists()
    sent[new[0]] = ["Would you play it with us?"]
    sent["s1.q1.prompt"] = ["What is its name?"]
    assert "is kept" in words_of(client.post(address, sent, follow=True))
    row = KindEdition.objects.order_by("edition").last()
    keys = [one.key for one in kind_in(row).steps[0].fields]
    assert keys == [*(one.key for one in KINDS["finds"].steps[0].fields), "would_you_play_it_with"]
    assert (row.edition, row.made_by) == (2, cast.director)


def test_a_copy_is_a_kind_of_its_own_and_what_ships_comes_back(client, cast):
    sign_in(client, cast.director)
    answer = client.get(f"{NEW}?from=finds")
    client.post(NEW, fields_of(answer))
    own = next(one for one in latest_kinds(cast.programme) if one.is_own)
    assert own.kind.name == "Finds, our way" and own.kind.key == "finds_our_way"
    assert [one.key for one in own.kind.steps[0].fields] == [
        one.key for one in KINDS["finds"].steps[0].fields
    ]
    sent = fields_of(client.get("/work/kinds/of/finds/")) | {"name": ["Trouvailles"]}
    client.post("/work/kinds/of/finds/", sent)
    assert "Back to what ships" in words_of(client.get("/work/kinds/"))
    client.post("/work/kinds/of/finds/as-shipped/")
    found = {one.kind.key: one for one in latest_kinds(cast.programme)}["finds"]
    assert (found.kind.name, found.edition, found.is_changed) == ("Finds", 3, False)


def test_put_away_and_brought_back(client, cast):
    sign_in(client, cast.director)
    client.post("/work/kinds/of/finds/put-away/")
    page = words_of(client.get("/work/kinds/"))
    assert page.index("Put away") < page.index("Bring back")
    assert client.get(f"/work/give/{cast.band.pk}/finds/").status_code == 404
    client.post("/work/kinds/of/finds/bring-back/")
    assert client.get(f"/work/give/{cast.band.pk}/finds/").status_code == 200
    assert client.post("/work/kinds/of/finds/burn/").status_code == 404


def test_every_fault_is_told_where_it_is_and_nothing_that_was_typed_is_lost(client, cast):
    sign_in(client, cast.director)
    sent = fields_of(client.get(NEW)) | {
        "name": ["Sound walk"], "aim": [""], "s1.q1.prompt": ["x" * 401],
        "s1.q1.least": ["many"], "s1.q2.key": [""], "s1.q2.prompt": ["Pick"],
        "s1.q2.type": ["choice"], "s1.q2.options": ["Loud\nSoft\nLoud"],
        "s1.q3.key": [""], "s1.q3.prompt": ["Which"], "s1.q3.type": ["telepathy"],
        "s1.q3.options": ["kept all the same"],
    }  # fmt: skip
    answer = client.post(NEW, sent)
    page = words_of(answer)
    assert answer.status_code == 422 and "Everything you typed is here" in page
    for said in (
        "The kind has no aim.",
        "“many” in question “1” of step 1 is no whole number.",
        "The question “1” of step 1 asks nothing, or more than 400 characters.",
        "Two answers of question “2” of step 1 say “Loud”.",
        "The question “3” of step 1 is of type “telepathy”",
    ):
        assert said in page, said
    for number in (1, 2, 3):
        assert f'href="#s1.q{number}"' in answer.content.decode()
    kept = fields_of(answer)
    for name, value in sent.items():
        assert [one.replace("\r", "") for one in kept[name]] == value, name
    assert not KindEdition.objects.exists()


def test_a_circular_choice_is_told_and_drawn_as_far_as_it_goes(client, cast):
    sign_in(client, cast.director)
    sent = fields_of(client.get(NEW)) | {
        "name": ["Round"], "aim": ["Go round."], "s1.q1.prompt": ["What?"],
        "s1.g1.key": [""], "s1.g1.of": ["q1", "g2"], "s1.g1.least": ["1"],
        "s1.g2.key": [""], "s1.g2.of": ["g1"], "s1.g2.least": ["1"],
    }  # fmt: skip
    answer = client.post(NEW, sent)
    assert answer.status_code == 422
    assert "The choice “A” of step 1 asks for itself (A → B → A)." in words_of(answer)
    assert 'href="#s1.g1"' in answer.content.decode()
    assert client.post("/work/kinds/preview/", sent).status_code == 200


def test_pasted_books_emoji_right_to_left_and_scripts_are_only_text(client, cast):
    sign_in(client, cast.director)
    odd = "<script>alert(1)</script> 🎺 שיר"
    sent = fields_of(client.get(NEW)) | {
        "name": ["🎺"], "aim": [odd], "s1.q1.prompt": [odd],
        "s1.q1.type": ["choice"], "s1.q1.options": ["שלום\n🎻\n<b>loud</b>"],
    }  # fmt: skip
    looked = client.post(NEW, sent | {"press": ["look"]})
    assert b"<script>alert" not in looked.content and b"<b>loud" not in looked.content
    book = client.post(NEW, sent | {"s1.q1.help": ["x" * 200_000], "s1.q1.prompt": ["y" * 200_000]})
    assert book.status_code == 422 and fields_of(book)["s1.q1.help"] == ["x" * 200_000]
    assert client.post(NEW, sent).status_code == 302
    own = next(one for one in latest_kinds(cast.programme) if one.is_own)
    assert (own.kind.key, own.kind.aim) == ("kind", odd)
    options = own.kind.steps[0].fields[0].options
    assert [one.label for one in options] == ["שלום", "🎻", "<b>loud</b>"]
    assert len({one.key for one in options}) == 3
    assert client.get("/work/kinds/of/kind/").status_code == 200


def test_two_kinds_of_one_name_have_two_keys(client, cast):
    sign_in(client, cast.director)
    sent = fields_of(client.get(NEW)) | {
        "name": ["Finds"], "aim": ["Look."], "s1.q1.prompt": ["What?"],
    }  # fmt: skip
    client.post(NEW, sent)
    assert {one.kind.key for one in latest_kinds(cast.programme)} == {*KINDS, "finds_2"}


def test_what_was_removed_can_be_put_back_where_it_was(client, cast):
    sign_in(client, cast.director)
    address = "/work/kinds/of/finds/"
    before = fields_of(client.get(address))
    answer = client.post(address, before | {"press": ["remove:s1.q2"]})
    after = fields_of(answer)
    assert "s1.q2.prompt" not in after and "Put back “" in words_of(answer)
    answer = client.post(address, after | {"press": ["put-back:"]})
    back = fields_of(answer)
    # What is put back stands unfolded, to be seen.
    assert back.pop("s1.q2.open") == ["yes"] and before.pop("s1.q2.open") == [""]
    assert {**back, "bin": [""]} == {**before, "bin": [""]}
    assert list(back) == list(before)


@pytest.mark.parametrize("press", ["", "add:", "up:s9.q9", "remove:x", "dance:s1", "add:s1.x",
                                   "put-back:", "add:s1.q1.c1.c1.c"])  # fmt: skip
def test_a_press_that_means_nothing_changes_nothing(client, cast, press):
    sign_in(client, cast.director)
    before = fields_of(client.get("/work/kinds/of/finds/"))
    for bin_ in ("", "{}", "[1]", '{"letter": "s", "node": 3}'):
        answer = client.post(
            "/work/kinds/of/finds/", before | {"press": [press or "look"], "bin": [bin_]}
        )
        assert answer.status_code == 200
        assert {**fields_of(answer), "bin": [""]} == {**before, "bin": [""]}


def test_somebody_else_s_change_meanwhile_is_said_and_both_are_kept(client, cast):
    sign_in(client, cast.director)
    mine = fields_of(client.get("/work/kinds/of/finds/")) | {"name": ["Mine"]}
    sign_in(client, cast.second_director)
    theirs = fields_of(client.get("/work/kinds/of/finds/")) | {"name": ["Theirs"]}
    client.post("/work/kinds/of/finds/", theirs)
    sign_in(client, cast.director)
    page = words_of(client.post("/work/kinds/of/finds/", mine, follow=True))
    assert "Theirs is edition 2, yours is edition 3; both are kept." in page
    assert [row.body["name"] for row in KindEdition.objects.order_by("edition")] == [
        "Finds", "Theirs", "Mine",
    ]  # fmt: skip


def test_the_preview_draws_what_stands_and_says_what_is_left_out(client, cast):
    sign_in(client, cast.director)
    sent = fields_of(client.get(NEW)) | {
        "s1.q1.prompt": ["What do you hear?"], "s1.q2.key": [""], "s1.q2.prompt": ["Pick"],
        "s1.q2.type": ["choice"], "s1.q2.options": ["Only one"],
    }  # fmt: skip
    page = words_of(client.post("/work/kinds/preview/", sent))
    assert "What do you hear?" in page and "1 question not drawn yet" in page
    sent["s1.q2.options"] = ["One\nTwo"]
    page = words_of(client.post("/work/kinds/preview/", sent))
    assert "Two" in page and "not drawn" not in page


def test_a_hard_prompt_gets_a_soft_hint(client, cast):
    sign_in(client, cast.director)
    hard = "Characterise the compositional methodology underlying the orchestration."
    sent = fields_of(client.get(NEW)) | {"s1.q1.prompt": [hard], "press": ["look"]}
    assert "Reads like grade" in words_of(client.post(NEW, sent))
    sent["s1.q1.prompt"] = ["What did you hear?"]
    assert "Reads like grade" not in words_of(client.post(NEW, sent))


def test_the_largest_kind_that_may_stand_fits_into_one_form(client, cast):
    sign_in(client, cast.director)
    sent = fields_of(client.get(NEW)) | {"name": ["Large"], "aim": ["Much."]}
    for step in range(1, MOST_STEPS + 1):
        sent |= {f"s{step}.key": [""], f"s{step}.name": [f"Step {step}"],
                 f"s{step}.moment": ["any"], f"s{step}.least_times": ["1"]}  # fmt: skip
        for number in range(1, MOST_FIELDS + 1):
            path = f"s{step}.q{number}."
            plain = dict.fromkeys(("key", "least", "most", "options", "help", "were"), "")
            words = plain | {"prompt": f"What of {number}?", "type": "short", "required": "yes"}
            sent |= {path + name: [value] for name, value in words.items()}
    assert len(sent) > 4000
    assert client.post(NEW, sent).status_code == 302
    own = next(one for one in latest_kinds(cast.programme) if one.is_own)
    assert len(own.kind.steps) == MOST_STEPS and len(own.kind.steps[-1].fields) == MOST_FIELDS


def test_a_rubric_s_row_is_added_said_where_it_lacks_and_kept_for_its_step(client, cast):
    sign_in(client, cast.director)
    sent = fields_of(client.get(NEW)) | {
        "name": ["Sound walk"], "aim": ["Walk."], "s1.q1.prompt": ["What?"], "press": ["add:r"],
    }  # fmt: skip
    sent = fields_of(client.post(NEW, sent))
    assert sent["r1.key"] == [""] and sent["r1.open"] == ["yes"]
    answer = client.post(NEW, sent | {"r1.name": ["Detail"]})
    page = words_of(answer)
    assert answer.status_code == 422 and 'href="#r1"' in answer.content.decode()
    assert "The row “1” of the rubric has no question" in page
    said = ["None yet.", "One thing.", "A few things.", "Many, and where."]
    levels = {f"r1.level{number}": [one] for number, one in enumerate(said, start=1)}
    row = {"r1.name": ["Detail"], "r1.question": ["What was heard?"], "marked": ["yes"], **levels}
    assert client.post(NEW, sent | row).status_code == 302
    own = next(one for one in latest_kinds(cast.programme) if one.is_own)
    kept = own.kind.rubric[0]
    assert (kept.key, kept.name, list(kept.descriptors)) == ("detail", "Detail", said)


def test_questions_of_a_kind_that_stands_are_folded_and_a_fault_unfolds_its_own(client, cast):
    sign_in(client, cast.director)
    address = "/work/kinds/of/finds/"
    sent = fields_of(client.get(address))
    assert {value[0] for name, value in sent.items() if name.endswith(".open")} == {""}
    again = fields_of(client.post(address, sent | {"s1.q2.prompt": [""]}))
    opened = [name for name, value in again.items() if name.endswith(".open") and value[0]]
    assert opened == ["s1.q2.open"]
