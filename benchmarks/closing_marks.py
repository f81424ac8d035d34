"""How long closing a marking period of 150 musicians takes: looked at, closed, explained, exported.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/closing_marks.py``. A real server, a real
Chromium, and presses as a director makes them: Marks, every line of *Look at these first* opened
and read, the page of every musician that a question is about, the period closed, one page a
musician made for print, both files for the school. Levels come from planted abilities; one take in
fourteen is missing, six musicians sent none, a few takes could not be heard. Seconds of the tool
are measured from a press to the finished page. A person's are reckoned, not measured: words on
what is opened at 150 a minute, three seconds a press and half a minute of thought for every
musician asked about (our choice, no source). Required: 25 minutes for all of it. The peer is the
same period where every musician's page is opened and read, as with no list of whom to look at.
"""

from __future__ import annotations

import os
import shutil
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, os.getcwd())
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

from benchmarks import marks as marks_bench  # sets Django up, on a folder of its own

# isort: split
import numpy as np
from django.core.management import call_command
from django.core.wsgi import get_wsgi_application
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Page, sync_playwright
from waitress.server import create_server

from benchmarks.machine import machine
from standlight.programme.models import GivenLevel, PeriodMarks, Turn

MUSICIANS, CHECKS, SECTIONS, PORT = 150, 4, 10, 8933
MISSING_SHARE, SILENT = 1 / 14, 6
WORDS_A_MINUTE, PRESS_S, THOUGHT_S = 150, 3.0, 30.0
MOST_MINUTES = 25.0


@dataclass
class Walk:
    """What a way through the period costs."""

    tool_s: float = 0.0
    presses: int = 0
    words: int = 0
    thoughts: int = 0

    def minutes(self) -> float:
        """Tool and person together."""
        person_s = self.words * 60 / WORDS_A_MINUTE + self.presses * PRESS_S
        return (self.tool_s + person_s + self.thoughts * THOUGHT_S) / 60

    def line(self, name: str) -> str:
        """The figures in words."""
        return (
            f"{name}: {self.minutes():.1f} minutes; of them the tool {self.tool_s:.1f} s"
            f" (measured); {self.presses} presses, {self.words} words, {self.thoughts} musicians"
            " thought about"
        )


def level_by_ability() -> None:
    """Levels as musicians give reason for them, and takes that never came."""
    chance = np.random.default_rng(11)
    ability = {row: chance.normal(2.8, 0.7) for row in {turn.musician_id for turn in turns()}}
    rows = list(GivenLevel.objects.select_related("turn"))
    for row in rows:
        heard = chance.normal(ability[row.turn.musician_id], 0.6)
        row.value = str(int(np.clip(round(heard), 1, 4)))
        if chance.random() < 1 / 200:
            row.value = "not_heard"
    GivenLevel.objects.bulk_update(rows, ["value"])
    silent = set(chance.choice(sorted(ability), SILENT, replace=False).tolist())
    missing = [turn.pk for turn in turns()
               if turn.musician_id in silent or chance.random() < MISSING_SHARE]  # fmt: skip
    GivenLevel.objects.filter(turn__in=missing).delete()
    Turn.objects.filter(pk__in=missing).delete()


def turns() -> list[Turn]:
    """Every turn, in order of its number."""
    return list(Turn.objects.order_by("pk"))


def words_of(page: Page, selector: str) -> int:
    """Words on the screen in what matches."""
    return sum(len(text.split()) for text in page.locator(selector).all_inner_texts())


def press(walk: Walk, act: object) -> None:
    """One press: the tool's seconds until the page stands."""
    start = time.perf_counter()
    act()
    walk.tool_s += time.perf_counter() - start
    walk.presses += 1


def close(page: Page, address: str) -> Walk:
    """Every question looked at, closed, explained, exported."""
    walk = Walk()
    press(walk, lambda: page.goto(address))
    walk.words += words_of(page, "main h1, main > p, section.look")
    for fold in page.locator("section.look details").all():
        press(walk, fold.locator("summary").click)
        walk.words += words_of(page, "section.look details[open] .names")
    asked = page.locator("section.look a").evaluate_all("(all) => all.map((one) => one.href)")
    for href in sorted(set(asked)):
        press(walk, lambda href=href: page.goto(href))
        walk.words += words_of(page, "main")
        walk.thoughts += 1
    press(walk, lambda: page.goto(address))
    form = page.locator("form[action$='/close/']").last
    if form.locator("input[name=looked]").count():
        press(walk, form.locator("input[name=looked]").check)
    press(walk, form.get_by_role("button", name="Close Period").click)
    page.get_by_text("Closed on").wait_for()
    assert PeriodMarks.objects.filter(closed_at__isnull=False).count() == 1
    press(walk, lambda: page.get_by_role("link", name="One page each, to print").click())
    assert words_of(page, "main") > MUSICIANS * 50
    press(walk, lambda: page.goto(address))
    for number in range(page.get_by_role("button", name="Make the whole file").count()):
        def make(number: int = number) -> None:
            with page.expect_download() as found:
                page.get_by_role("button", name="Make the whole file").nth(number).click()
            assert Path(found.value.path()).read_bytes().count(b"\n") >= MUSICIANS
        press(walk, make)
        page.goto(address)
    return walk


def one_by_one(page: Page, address: str) -> Walk:
    """Every musician's page opened and read."""
    walk = Walk()
    press(walk, lambda: page.goto(address))
    hrefs = page.locator("td.mark a").evaluate_all("(all) => all.map((one) => one.href)")
    assert len(hrefs) == MUSICIANS
    for href in hrefs:
        press(walk, lambda href=href: page.goto(href))
        walk.words += words_of(page, "main")
    return walk


def main() -> int:
    """Print both ways; 1 when the period takes longer than it may."""
    call_command("migrate", verbosity=0)
    marks_bench.MUSICIANS, marks_bench.CHECKS, marks_bench.SECTIONS = MUSICIANS, CHECKS, SECTIONS
    director, ensemble, period = marks_bench.school()
    level_by_ability()
    client = Client()
    client.force_login(director, backend="django.contrib.auth.backends.ModelBackend")
    cookie = client.cookies["sessionid"].value
    server = create_server(get_wsgi_application(), host="127.0.0.1", port=PORT, threads=8)
    threading.Thread(target=server.run, daemon=True).start()
    address = f"/marks/{ensemble.pk}/{period.pk}/"
    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        context = browser.new_context(
            viewport={"width": 1280, "height": 900}, base_url=f"http://127.0.0.1:{PORT}"
        )
        context.add_cookies([{"name": "sessionid", "value": cookie, "domain": "127.0.0.1",
                              "path": "/"}])  # fmt: skip
        page = context.new_page()
        peer = one_by_one(page, address)
        ours = close(page, address)
        browser.close()
    server.close()
    print(f"{MUSICIANS} musicians, {CHECKS} checks of 3 criteria, on {timezone.localdate()}")
    print(f"machine: {machine()}")
    print(ours.line("a period looked at, closed, explained, exported"))
    print(peer.line("peer, every musician's page read, nothing closed"))
    return int(ours.minutes() > MOST_MINUTES)


if __name__ == "__main__":
    sys.exit(main())
