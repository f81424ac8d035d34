"""``./run`` or ``./run serve``: the pages and the worker, from one command.

The pages run in this process (waitress); the worker is a child that is started
again when it dies. The first start makes the database and the demo programme.
"""

from __future__ import annotations

import argparse
import os
import signal
import subprocess
import sys
import threading
import time

NAME = "serve"
SUMMARY = "open the pages and the worker (what ./run does by itself)"

RESTART_PAUSE_SECONDS = 1.0
"""First pause before a dead worker is started again; doubled up to the longest."""

LONGEST_PAUSE_SECONDS = 30.0
STEADY_SECONDS = 60.0
"""A worker that lived this long earns the first pause again."""

PAGE_THREADS = 8
"""Enough for a class uploading at once; signing in costs 19 MiB a thread at most."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Only whether to start a worker, too."""
    parser.add_argument("--no-worker", action="store_true", help="pages only; run work elsewhere")


def run(options: argparse.Namespace) -> int:
    """Serve until interrupted; 0 then, 1 when the port is taken."""
    started = time.perf_counter()
    from standlight.commands._shell import bring_up_to_date, open_shell

    open_shell()
    bring_up_to_date()
    _first_start()

    from standlight.programme.jobs import schedule_daily

    schedule_daily()

    from standlight.errors import StandlightError
    from standlight.web.settings_table import setting

    host, port = setting("STANDLIGHT_HOST"), setting("STANDLIGHT_PORT")
    server = _listen(host, port)
    if server is None:
        raise StandlightError(
            f"port {port} is taken", where=host, slip="is Standlight running already?"
        )
    keeper = None if options.no_worker else WorkerKeeper()
    signal.signal(signal.SIGTERM, _stop)
    _say(f"Standlight is open at http://{host}:{port}/ after {time.perf_counter() - started:.1f} s")
    _say_sign_in()
    if keeper:
        keeper.start()
    try:
        server.run()
    except (KeyboardInterrupt, SystemExit):
        _say("Closing.")
    finally:
        server.close()
        if keeper:
            keeper.stop()
    return 0


def _stop(_number: int, _frame: object) -> None:
    """Turn a polite end into the way out of the serving loop."""
    raise SystemExit(0)


def _listen(host: str, port: str) -> object | None:
    """A waitress server bound to the address, ``None`` when it is taken."""
    from django.core.wsgi import get_wsgi_application
    from waitress.server import create_server

    try:
        return create_server(
            get_wsgi_application(), host=host, port=int(port), threads=PAGE_THREADS, ident=None
        )
    except OSError:
        return None


class WorkerKeeper(threading.Thread):
    """Keeps one worker process alive; ``process`` is the present one."""

    def __init__(self) -> None:
        """Nothing is started before ``start``."""
        super().__init__(daemon=True)
        self.process: subprocess.Popen | None = None
        self.ended = threading.Event()

    def run(self) -> None:
        """Start the worker, and again when it dies, with growing pauses."""
        pause = RESTART_PAUSE_SECONDS
        while not self.ended.is_set():
            born = time.monotonic()
            self.process = subprocess.Popen(
                [sys.executable, "-m", "standlight", "work", "--with-parent"],
                stdin=subprocess.DEVNULL,
                # A group of its own, so that the children of a killed worker end with it.
                start_new_session=True,
            )
            self.process.wait()
            _end_group(self.process.pid)
            if time.monotonic() - born > STEADY_SECONDS:
                pause = RESTART_PAUSE_SECONDS
            self.ended.wait(pause)
            pause = min(2 * pause, LONGEST_PAUSE_SECONDS)

    def stop(self) -> None:
        """End the worker politely, then firmly."""
        self.ended.set()
        if self.process and self.process.poll() is None:
            self.process.terminate()
            try:
                self.process.wait(10)
            except subprocess.TimeoutExpired:
                _end_group(self.process.pid)


def _end_group(leader: int) -> None:
    """End whatever is left of the process group that ``leader`` began."""
    try:
        os.killpg(leader, signal.SIGKILL)
    except ProcessLookupError:
        return


def _first_start() -> None:
    """Make a programme when there is none: the invented one, or an empty one with a director."""
    from standlight.programme.models import Programme

    if Programme.objects.exists():
        return
    from standlight.web.settings_table import setting

    if setting("STANDLIGHT_DEMO") == "yes":
        from standlight.demo.load import load_demo

        _say("Setting up the demo programme (invented people, once) ...")
        load_demo()
    else:
        from standlight.programme.actions.beginning import begin_programme

        password = begin_programme()
        _say(f"A new programme. Sign in as director with the password {password}")
        _say("It is shown this once: write it down.")


def _say_sign_in() -> None:
    """Print the demo's sign-ins, or say that the school has its own."""
    from standlight.programme.models import Programme

    if Programme.objects.filter(is_demo=True).exists():
        from standlight.demo.load import DEMO_SIGN_INS

        for who, name, secret in DEMO_SIGN_INS:
            _say(f"  {who}: {name} / {secret}")


def _say(sentence: str) -> None:
    """One line to the person at the terminal, at once."""
    sys.stdout.write(f"{sentence}\n")
    sys.stdout.flush()
