"""Fills any step of any kind in the browser, through the controls that a musician uses.

One filler a type of question; nothing here asks which kind it fills.
"""

from standlight.kinds import Step, columns_of

PHRASE = (
    "I listen for the low notes and count the rests so that I come in with the others "
    "when the tune moves on to the next line"
)
"""Words enough to fill any answer, again and again."""


def words(field):
    """A text that is long enough for ``field`` and never too long."""
    count = max(field.least or 0, min(3, field.most or 3))
    said = PHRASE.split()
    return " ".join(said[place % len(said)] for place in range(count))


def fill_step(page, step: Step):
    """Answer every question of ``step`` that may be answered, in the order of the form."""
    kept_out = {key for choice in step.choices for key in choice.of[_most(choice) :]}
    asked = [field for field in step.fields if field.key not in kept_out]
    for field in asked:
        place = page.locator(f'[data-question="{field.key}"]')
        for folded in place.locator("details:not([open]) > summary").all():
            if not folded.evaluate("one => one.parentElement.classList.contains('say')"):
                folded.click()
        FILLERS[field.type](page, field, f"q.{field.key}")
    return [field.key for field in asked]


def _most(choice):
    return len(choice.of) if choice.most is None else choice.most


def _named(page, name):
    return page.locator(f'[name="{name}"]')


def _text(page, field, name):
    _named(page, name).fill(words(field))


def _one(page, field, name):
    menu = page.locator(f'select[name="{name}"]')
    if menu.count():
        menu.select_option(field.options[0].key)
    else:
        page.locator(f'[name="{name}"][value="{field.options[0].key}"]').check()


def _several(page, field, name):
    for option in field.options[: max(field.least or 0, 1)]:
        page.locator(f'[name="{name}"][value="{option.key}"]').check()


def _scale(page, field, name):
    page.locator(f'[name="{name}"][value="{field.most}"]').check()


def _rows(page, field, name):
    rows = page.locator(f'[data-rows="{name}"] > [data-row]')
    wanted = max(field.least or 0, 1)
    while rows.count() < wanted:
        _add_row(page, name).click()
    for number in range(wanted):
        for column in columns_of(field):
            FILLERS[column.type](page, column, f"{name}.{number}.{column.key}")


def _add_row(page, name):
    return page.locator(f'fieldset:has(> [data-rows="{name}"]) > [data-add-row]')


def _measure(page, field, name):
    _named(page, f"{name}.measure").fill("34")
    _words_beside(page, name, "the long run")


def _clock(page, field, name):
    _named(page, f"{name}.at_s").fill("0:01")
    _words_beside(page, name, "the tune comes back")


def _words_beside(page, name, said):
    """In a list the other columns say what there is to say."""
    for box in _named(page, f"{name}.words").all():
        box.fill(said)


def _spot(page, field, name):
    _named(page, f"{name}.from_measure").fill("33")
    for column in columns_of(field):
        FILLERS[column.type](page, column, f"{name}.{column.key}")


def _source(page, field, name):
    allowed = [option.key for option in field.options] or ["secondary"]
    for choice in page.locator(f'[name="{name}.kind"][value="{allowed[0]}"]').all():
        choice.check()
    for part, text in (("author", "A. Writer"), ("title", "The Long River"), ("where", "page 7")):
        _named(page, f"{name}.{part}").fill(text)


def _consent(page, field, name):
    _named(page, name).check()


FILLERS = {
    "short": _text, "long": _text, "choice": _one, "levels": _one, "several": _several,
    "scale": _scale, "rows": _rows, "measure": _measure, "clock": _clock, "spot": _spot,
    "source": _source, "consent": _consent,
}  # fmt: skip
"""By type; no first step asks for a recording, which test_sheet.py makes."""
