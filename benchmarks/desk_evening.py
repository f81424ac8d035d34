"""Seconds a director waits for the tool in an evening: 20 takes rated and answered by keys alone.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/desk_evening.py``. A real server, a real
Chromium, nobody's thinking and nobody's playing counted: only from each key to what it brings
(a level on the screen, the saved page, the next take's sound). Prints the figures of the Desk
and, as a peer in the same run, of the same pages loaded whole with nothing fetched beforehand.
Required: 2 s a take; sound half a second after sending.
"""

from __future__ import annotations

import json
import os
import shutil
import statistics
import sys
import threading
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, os.getcwd())
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

from benchmarks import desk_next  # sets Django up, on a folder of its own

# isort: split
from django.core.management import call_command
from django.core.wsgi import get_wsgi_application
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Error, Page, sync_playwright
from waitress.server import create_server

from benchmarks.large_ensemble import large_ensemble
from benchmarks.machine import machine
from standlight.programme import store
from standlight.programme.models import CommentLine, GivenLevel, Report, Take, Turn
from standlight.score import cut_passage, line_to_musicxml
from standlight.workshop import playback_copy

TAKES, PORT = 20, 8932
RECORDING = Path("tests/browser/clarinet_ode_sd15c_sd30ms.flac")
MOST_SECONDS_A_TAKE, MOST_SECONDS_TO_SOUND = 2.0, 0.5

WATCH = """
const log = (what, more) => {
  const all = JSON.parse(sessionStorage.getItem("log") || "[]");
  all.push({ what, at: Date.now(), ...more });
  sessionStorage.setItem("log", JSON.stringify(all));
};
const painted = (what) => requestAnimationFrame(() => setTimeout(() => log(what,
  { saved: Boolean(document.querySelector("[data-levels][data-saved]")) })));
document.addEventListener("keydown", (event) => {
  log("key", { key: event.key });
  painted("answered");
}, true);
document.addEventListener("playing", () => log("playing"), true);
document.addEventListener("DOMContentLoaded", () => painted("drawn"));
document.addEventListener("htmx:afterSettle", () => painted("drawn"));
"""


@dataclass
class Evening:
    """Seconds from each key to what it brings, one entry a take."""

    levels: list[float] = field(default_factory=list)
    saved: list[float] = field(default_factory=list)
    sound: list[float] = field(default_factory=list)

    def a_take(self) -> list[float]:
        """All the waiting of each take that is followed by another."""
        return [sum(row) for row in zip(self.levels, self.saved, self.sound, strict=False)]

    def lines(self, name: str) -> str:
        """The figures in words."""
        rows = {
            "the tool is waited for": self.a_take(),
            "of it four keys": self.levels,
            "of it Enter to the saved levels": self.saved,
            "of it Enter to the next take's sound": self.sound,
        }
        return "\n".join(
            f"{name}: {what}, seconds a take: median {statistics.median(times):.2f}, "
            f"longest {max(times):.2f} ({len(times)} takes)"
            for what, times in rows.items()
        )


def school() -> tuple[object, object]:
    """A director and a check with ``TAKES`` takes waiting, each with sound and a report."""
    made = large_ensemble(TAKES, 3)
    whole = line_to_musicxml(f"time 4/4\ntempo 96\n{desk_next.LINE}", instrument="Clarinet in Bb")
    digest = store.keep(cut_passage(whole, 0, 0, 7))
    CommentLine.objects.bulk_create(
        CommentLine(programme=made.director.programme, criterion=key, place="next_step",
                    level=level, text=f"Work on the {key}, slowly first.")
        for key in desk_next.CRITERIA for level in range(1, 5)
    )  # fmt: skip
    check = desk_next.check_of(
        made.director, made.ensemble, made.seats, digest, desk_next.CHECKS - 1
    )
    copy = store.keep(playback_copy(RECORDING.read_bytes()))
    Take.objects.update(playback_digest=copy, seconds=9.0, first_note_s=0.4)
    notes = [{"index": n, "outcome": "played", "onset_s": 0.5 + n * 0.15} for n in range(48)]
    Report.objects.update(body={"notes": notes, "spots": [], "readings": [], "seconds": 9.0})
    return made.director, check


def begin_anew() -> None:
    """Every take waits again, without levels."""
    GivenLevel.objects.all().delete()
    Turn.objects.update(answered_at=None, sent_at=timezone.now())
    for turn in Turn.objects.filter(answer__isnull=False).select_related("answer"):
        turn.answer.delete()


def logged(page: Page) -> list[dict]:
    """What was noted so far; nothing while one page gives way to the next."""
    try:
        return json.loads(page.evaluate("sessionStorage.getItem('log') || '[]'"))
    except Error:
        return []


def wait(page: Page, what: str, since: int, *, saved: bool | None = None) -> dict:
    """The first ``what`` noted after entry ``since``; the page goes on meanwhile."""
    for _ in range(1500):
        for row in logged(page)[since:]:
            if row["what"] == what and (saved is None or row["saved"] == saved):
                return row
        page.wait_for_timeout(20)
    raise SystemExit(f"{what} did not come within 30 s")


def press(page: Page, key: str, what: str, *, saved: bool | None = None) -> float:
    """Seconds from the key to what it brings."""
    since = len(logged(page))
    page.keyboard.press(key)
    start = wait(page, "key", since)
    came = wait(page, what, since, saved=saved)
    return (came["at"] - start["at"]) / 1000


def evening(page: Page, check: object) -> Evening:
    """Rate and answer every take by keys."""
    found = Evening()
    page.goto(f"/desk/{check.pk}/")
    wait(page, "playing", 0)
    for number in range(TAKES):
        # The ear takes longer than this; what is fetched meanwhile is not waited for.
        page.wait_for_timeout(1500)
        keys = sum(press(page, key, "answered") for key in "324")
        found.saved.append(press(page, "Enter", "drawn", saved=True))
        keys += press(page, "a", "answered")
        found.levels.append(keys)
        if number < TAKES - 1:
            found.sound.append(press(page, "Enter", "playing"))
        else:
            press(page, "Enter", "drawn", saved=False)
    return found


def main() -> int:
    """Print both evenings and what they ran on; 1 when a required figure is missed."""
    call_command("migrate", verbosity=0)
    director, check = school()
    client = Client()
    client.force_login(director, backend="django.contrib.auth.backends.ModelBackend")
    cookie = client.cookies["sessionid"].value
    server = create_server(get_wsgi_application(), host="127.0.0.1", port=PORT, threads=8)
    threading.Thread(target=server.run, daemon=True).start()
    evenings = {}
    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=shutil.which("chromium"),
            args=["--no-sandbox", "--autoplay-policy=no-user-gesture-required"],
        )
        for name in ("the Desk", "peer, whole pages and nothing beforehand"):
            begin_anew()
            context = browser.new_context(
                viewport={"width": 1280, "height": 900}, base_url=f"http://127.0.0.1:{PORT}"
            )
            context.add_cookies([{"name": "sessionid", "value": cookie, "domain": "127.0.0.1",
                                  "path": "/"}])  # fmt: skip
            context.add_init_script(WATCH)
            if name.startswith("peer"):
                context.route("**/htmx*.js", lambda route: route.abort())
                context.add_init_script(
                    "const whole = fetch; window.fetch = (a, ...more) => "
                    "String(a).includes('/sound') ? Promise.reject(new Error('peer')) "
                    ": whole(a, ...more);"
                )
            evenings[name] = evening(context.new_page(), check)
            context.close()
        browser.close()
    server.close()
    assert GivenLevel.objects.filter(retired_at__isnull=True).count() == TAKES * 3
    assert not Turn.objects.filter(answered_at__isnull=True).exists()
    print(f"{TAKES} takes, three criteria, rated and answered by keys in Chromium")
    print(f"on {machine()}, load {os.getloadavg()[0]:.0f}")
    for name, one in evenings.items():
        print(one.lines(name))
    ours = evenings["the Desk"]
    return int(
        statistics.median(ours.a_take()) > MOST_SECONDS_A_TAKE
        or statistics.median(ours.sound) > MOST_SECONDS_TO_SOUND
    )


if __name__ == "__main__":
    sys.exit(main())
