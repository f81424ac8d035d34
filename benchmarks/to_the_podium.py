"""From what was said and heard to the podium page, in the demo programme: minutes, and reasons.

Run: ``python benchmarks/to_the_podium.py``. The demo is made anew and its takes are heard by the
worker (some minutes, not counted); then a Chromium goes the director's way for each group: Today,
Rehearse, the strip of a piece, the plan drawn up and read, the podium page. Seconds of the tool
are measured from a press to the finished page. A person's are reckoned, not measured: every word
of the plan and of the strip's spots at 150 a minute, three seconds a press (our choice, no
source). Required: five minutes, and a reason on every block. The peer is reading every remark of
the last six weeks one by one, at the same pace, before anything is planned.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "src")]
os.environ["STANDLIGHT_DATA"] = tempfile.mkdtemp(prefix="standlight-bench-")
os.environ["DJANGO_SETTINGS_MODULE"] = "standlight.web.settings"
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

import django  # noqa: E402

django.setup()

from playwright.sync_api import Page, sync_playwright  # noqa: E402

from benchmarks.machine import machine  # noqa: E402
from standlight.programme.models import Remark, Take  # noqa: E402

PORT = "8934"
LONGEST_S = 1500
WORDS_A_MINUTE, PRESS_S = 150, 3.0
MOST_MINUTES = 5.0


@dataclass
class Walk:
    """What one group's way costs, and whether every block has its reason."""

    tool_s: float = 0.0
    presses: int = 0
    words: int = 0
    blocks: int = 0
    reasons: int = 0

    def press(self, act: object) -> None:
        """One press: the tool's seconds until the page stands."""
        start = time.perf_counter()
        act()
        self.tool_s += time.perf_counter() - start
        self.presses += 1

    def minutes(self) -> float:
        """Tool and person together."""
        person_s = self.words * 60 / WORDS_A_MINUTE + self.presses * PRESS_S
        return (self.tool_s + person_s) / 60


def words_of(page: Page, selector: str) -> int:
    """Words on the screen in what matches."""
    return sum(len(text.split()) for text in page.locator(selector).all_inner_texts())


def walk(page: Page, number: int) -> tuple[str, Walk]:
    """The way of group ``number`` on the page of rehearsals; its name and what it cost."""
    found = Walk()
    page.goto("/today/")
    spine = page.get_by_role("navigation", name="Places")
    found.press(spine.get_by_role("link", name="Rehearse", exact=True).click)
    group = page.locator("section.group").nth(number)
    name = group.locator("h2").inner_text().split("\n")[0]
    found.press(group.locator("a[href*='/rehearse/piece/']").first.click)
    found.words += words_of(page, ".spots li")
    found.press(spine.get_by_role("link", name="Rehearse", exact=True).click)
    group = page.locator("section.group").nth(number)
    found.press(group.get_by_role("button", name="Draw up the plan").click)
    page.get_by_text("The plan is drawn up").wait_for()
    found.words += words_of(page, ".block h2, .block p")
    blocks = page.locator(".block").all_inner_texts()
    found.blocks = len(blocks)
    told = [text.partition("Why: ")[2].split("\n")[0].strip(" .") for text in blocks]
    found.reasons = sum(map(bool, told))
    found.press(page.get_by_role("link", name="Podium page").click)
    page.get_by_role("button", name="Next").wait_for()
    assert page.locator("[data-block]:visible").count() == 1
    return name, found


def heard() -> bool:
    """Whether every take of the demo has been heard or refused."""
    return not Take.objects.filter(state__in=(Take.ARRIVING, Take.WHOLE)).exists()


def main() -> int:
    """Open, wait, walk, print; 1 where a group takes longer or a block has no reason."""
    environment = {**os.environ, "STANDLIGHT_PORT": PORT, "PYTHONPATH": str(ROOT / "src")}
    server = subprocess.Popen(
        [sys.executable, "-m", "standlight", "serve"], env=environment, cwd=ROOT, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip
    walks = {}
    try:
        assert server.stdout is not None
        next(line for line in server.stdout if "is open at" in line)
        end = time.monotonic() + LONGEST_S
        while not heard() and time.monotonic() < end:
            time.sleep(5)
        n_heard = Take.objects.filter(state=Take.HEARD).count()
        with sync_playwright() as driver:
            browser = driver.chromium.launch(
                executable_path=shutil.which("chromium"), args=["--no-sandbox"]
            )
            page = browser.new_context(
                viewport={"width": 1280, "height": 900}, base_url=f"http://127.0.0.1:{PORT}"
            ).new_page()
            page.goto("/sign-in/")
            page.fill("#id_username", "director")
            page.fill("#id_password", "lantern-walk")
            page.get_by_role("button", name="Sign in").click()
            page.wait_for_url("**/today/")
            for number in range(3):
                name, found = walk(page, number)
                walks[name] = found
            browser.close()
    finally:
        server.send_signal(signal.SIGTERM)
        server.wait(30)
    said = list(Remark.objects.values_list("words", flat=True))
    peer = sum(len(words.split()) for words in said) / WORDS_A_MINUTE
    print(f"machine: {machine()}")
    print(f"the demo programme, {n_heard} takes heard, {len(said)} remarks")
    for name, one in walks.items():
        print(f"{name}: {one.minutes():.1f} minutes; the tool {one.tool_s:.1f} s (measured),"
              f" {one.presses} presses, {one.words} words;"
              f" {one.reasons} of {one.blocks} blocks say why")  # fmt: skip
    print(f"peer, all remarks read before anything is planned: {peer:.1f} minutes")
    return int(
        any(one.minutes() > MOST_MINUTES or one.reasons < one.blocks for one in walks.values())
    )


if __name__ == "__main__":
    sys.exit(main())
