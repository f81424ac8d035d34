"""A browser and a server for it: Debian's chromium, and Django's threaded live server.

``live_server`` (of pytest-django) serves pages and static files on a free loopback port
from the test database, which is a file so that its threads may share it. ``visitor`` opens
a browser with a profile of its own; ``visitor.sign_in(page, musician)`` types a card.
"""

import os
import shutil
import signal
import subprocess
import time
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from pathlib import Path

import av
import numpy as np
import pytest

CHROMIUM = shutil.which("chromium")
FLAGS = ["--no-sandbox", "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream"]
PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}
PATIENCE_MS = 20_000


def why_no_browser():
    """The sentence why no browser can be driven here, empty when one can."""
    if CHROMIUM is None:
        return "there is no chromium on this machine"
    from playwright._impl._driver import compute_driver_executable

    node = compute_driver_executable()[0]
    asked = subprocess.run([node, "--version"], capture_output=True, text=True, check=False)
    if asked.returncode:
        return f"the browser's driver does not start here: {asked.stderr.strip()[-80:]}"
    return ""


def pytest_collection_modifyitems(items):
    """Everything here drives a browser, and is skipped with a sentence where there is none."""
    here = Path(__file__).parent
    reason = why_no_browser()
    for item in items:
        if here in Path(item.path).parents:
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.django_db(transaction=True))
            if reason:
                item.add_marker(pytest.mark.skip(reason=reason))


@pytest.fixture(scope="session")
def playwright():
    """The driver; Django is told that its own thread may go on using the database."""
    from playwright.sync_api import sync_playwright

    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as driver:
        yield driver


def as_wav(recording, target, *, lead_s=0.0):
    """Write a recording (any kind PyAV reads) as 48 kHz mono WAV, silence of ``lead_s`` first."""
    samples = []
    with av.open(str(recording)) as given:
        resampler = av.AudioResampler("s16", "mono", 48000)
        for frame in given.decode(audio=0):
            samples += [part.to_ndarray()[0] for part in resampler.resample(frame)]
    whole = np.concatenate([np.zeros(int(lead_s * 48000), np.int16), *samples])
    with av.open(str(target), "w", format="wav") as out:
        stream = out.add_stream("pcm_s16le", rate=48000, layout="mono")
        for start in range(0, len(whole), 4096):
            block = np.ascontiguousarray(whole[None, start : start + 4096])
            frame = av.AudioFrame.from_ndarray(block, format="s16", layout="mono")
            frame.sample_rate, frame.pts = 48000, start
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return target


@dataclass
class Visitor:
    """Opens browsers on the live server and closes them at the end of the test."""

    playwright: object
    url: str
    folder: Path
    stack: ExitStack
    slips: list = field(default_factory=list)

    def open(self, profile="profile", *, sound=None, size=PHONE):
        """A browser with the named profile; ``sound`` is a WAV file its microphone plays once."""
        flags = list(FLAGS)
        if sound is not None:
            flags.append(f"--use-file-for-fake-audio-capture={sound}%noloop")
        context = self.playwright.chromium.launch_persistent_context(
            str(self.folder / profile), executable_path=CHROMIUM, args=flags, viewport=size,
            base_url=self.url, permissions=["microphone"],
        )  # fmt: skip
        context.set_default_timeout(PATIENCE_MS)
        context.on("weberror", lambda slip: self.slips.append(str(slip.error)))
        self.stack.callback(self._close, context)
        return context

    @staticmethod
    def _close(context):
        from playwright.sync_api import Error

        with suppress(Error):  # killed by the test itself
            context.close()

    def sign_in(self, page, musician, pin="2468"):
        """Type the card code and PIN."""
        page.goto("/sign-in/")
        page.fill("#id_username", musician.account.sign_in)
        page.fill("#id_password", pin)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url("**/my/")

    @staticmethod
    def sign_in_director(page):
        """Sign the cast's lead director in; they land on Today."""
        page.goto("/sign-in/")
        page.fill("#id_username", "director")
        page.fill("#id_password", "stand-lamp-7")
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url("**/today/")

    def kill(self, profile="profile"):
        """End the browser of that profile at once, as a dying battery would."""
        mark = f"--user-data-dir={self.folder / profile}"
        listed = subprocess.run(
            ["ps", "-eo", "pid,args", "ww"], capture_output=True, text=True, check=True
        ).stdout
        ours = [int(row.split()[0]) for row in listed.splitlines() if mark in row]
        assert ours, "the browser to kill is not running"
        for pid in ours:
            try:
                os.kill(pid, signal.SIGKILL)
            except ProcessLookupError:
                continue  # went down with its parent
        for name in ("SingletonLock", "SingletonCookie", "SingletonSocket"):
            (self.folder / profile / name).unlink(missing_ok=True)


@pytest.fixture
def visitor(playwright, live_server, tmp_path):
    """Browsers on the live server; a script error on any page fails the test."""
    with ExitStack() as stack:
        one = Visitor(playwright, live_server.url, tmp_path, stack)
        yield one
    assert not one.slips, one.slips


def until(page, asked, seconds=20.0):
    """Ask until the answer is true, and give it; ``page`` goes on working meanwhile."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        answer = asked()
        if answer:
            return answer
        page.wait_for_timeout(100)
    raise AssertionError(f"{asked} did not become true within {seconds} s")
