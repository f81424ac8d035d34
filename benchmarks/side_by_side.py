"""Takes beside what was read in them: a spectrogram with the told notes drawn over it.

Run: ``PYTHONPATH=src .venv-test/bin/python benchmarks/side_by_side.py FOLDER --seed N [--takes N]
[--kind main|restart|clean] [--families winds,brass]``. Takes the first takes of the seed, or the
first of those families. Writes one picture a take, which does not hold the truth, and
``truth.txt``, which is opened after the pictures were judged. Somebody who knows the sound of
the instrument looks at each told note: is there a tone, does it begin there, is it that pitch?
"""

from __future__ import annotations

import argparse
import sys
import textwrap
from itertools import count, islice
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np

from benchmarks.hearing import lines, tones
from benchmarks.hearing.accuracy import told_of
from benchmarks.hearing.takes import MadeTake, take
from benchmarks.hearing.timbres import FAMILIES, TURNS
from standlight.criteria.limits import SURE_PROBABILITY, entry_limit_ms
from standlight.sound import Recording

STRIP_S, DOTS = 7.0, 110
WINDOW_S, HOP_S = 0.046, 0.008
COLOURS = {"played": "#ffffff", "other_pitch": "#ff9d2f", "missing": "#ff5f5f"}


def spectrogram(recording: Recording) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Levels in decibel ``(bins, frames)``, frequencies in Hz, seconds of the frames."""
    width, hop = int(WINDOW_S * recording.rate_hz), int(HOP_S * recording.rate_hz)
    padded = np.pad(recording.samples, width // 2)
    pieces = np.lib.stride_tricks.sliding_window_view(padded, width)[::hop]
    power = np.abs(np.fft.rfft(pieces * np.hanning(width), n=4 * width, axis=1)) ** 2
    level = 10.0 * np.log10(power.T + 1e-10)
    hz = np.fft.rfftfreq(4 * width, 1.0 / recording.rate_hz)
    return level, hz, np.arange(len(pieces)) * HOP_S


def picture(made: MadeTake, report: Any, file: Path) -> None:
    """The take in strips, each told note a box at its first harmonic with number and pitch."""
    recording = made.recording()
    level, hz, seconds = spectrogram(recording)
    strips = int(np.ceil(recording.seconds / STRIP_S))
    written = [note.midi for note in made.passage.notes]
    low, high = _hz(min(written) - 14), min(6.0 * _hz(max(written)), 8_000.0)
    figure, axes = plt.subplots(strips, 1, figsize=(17, 4.6 * strips), squeeze=False)
    inside = (hz > low) & (hz < high)
    top = float(level[inside].max())
    for strip, axis in enumerate(axes[:, 0]):
        first = strip * STRIP_S
        axis.pcolormesh(seconds, hz[inside], level[inside], vmin=top - 70, vmax=top, cmap="magma",
                        shading="nearest", rasterized=True)  # fmt: skip
        axis.set_yscale("log")
        axis.set_xlim(first, first + STRIP_S)
        axis.set_xticks(np.arange(first, first + STRIP_S + 0.01, 0.5))
        axis.set_ylim(low, high)
        for note in report.notes:
            longer = note.index in report.prolonged
            _told(axis, note, written[note.index], made.line.timbre.family, longer)
        for sound in report.added:
            _box(axis, sound.onset_s, sound.offset_s, sound.midi_heard, "#7fe0ff", "added")
        for restart in report.restarts:
            axis.axvline(restart.onset_s, color="#7fe0ff", linewidth=2)
            axis.text(restart.onset_s, high, f"again from {restart.to_index}", color="#004a6e",
                      clip_on=True)  # fmt: skip
    lost = ", ".join(
        f"{note.index}{'' if note.probability >= SURE_PROBABILITY else ' (not sure)'}"
        for note in report.notes if note.outcome == "missing"
    )  # fmt: skip
    words = "; ".join(verdict.sentence for verdict in report.verdicts) or "no verdict"
    told = f"{made.line.timbre.names[0]}; told missing: {lost or 'none'}; {words}"
    pitches = "written: " + " ".join(f"{index}:{midi}" for index, midi in enumerate(written))
    title = "\n".join(textwrap.wrap(told, 190) + textwrap.wrap(pitches, 190))
    axes[0, 0].set_title(title, fontsize=8, loc="left")
    figure.tight_layout()
    figure.savefig(file, dpi=DOTS)
    plt.close(figure)


def _told(axis: Any, note: Any, written: int, family: str, longer: bool) -> None:
    """One told note; a note of unclear pitch at its written one, with a question mark.

    What is called out as early or late, or as longer than written, says so; where no start is told
    the left edge is dotted.
    """
    if note.onset_s is None:
        return
    said = note.midi_heard if note.midi_heard is not None else float(written)
    word = f"{note.index}" if note.outcome == "played" else f"{note.index} not {written}"
    if note.probability < SURE_PROBABILITY:
        word += " not sure:"
    apart_ms = note.asynchrony_ms
    if apart_ms is not None and abs(apart_ms) >= entry_limit_ms(family):
        word += f" {'late' if apart_ms > 0 else 'early'} by {abs(apart_ms):.0f} ms"
    if longer:
        word += " longer than written: held or played twice"
    _box(axis, note.onset_s, note.offset_s, said, COLOURS[note.outcome],
         word if note.midi_heard is not None else word + "?", apart_ms is not None)  # fmt: skip


def _box(
    axis: Any,
    start_s: float,
    end_s: float,
    midi: float,
    colour: str,
    word: str,
    has_start: bool = True,
) -> None:
    """A frame a semitone high around the first harmonic."""
    low, high = _hz(midi - 0.5), _hz(midi + 0.5)
    axis.plot([start_s, end_s, end_s, start_s], [low, low, high, high], color=colour, linewidth=1.1)
    axis.plot([start_s, start_s], [low, high], color=colour, linewidth=1.1,
              linestyle="-" if has_start else ":")  # fmt: skip
    axis.text(start_s, high, f"{word} {midi:.1f}", color=colour, fontsize=7, va="bottom",
              clip_on=True)  # fmt: skip


def _hz(midi: float) -> float:
    """Frequency of a MIDI pitch."""
    return 440.0 * 2.0 ** ((midi - 69.0) / 12.0)


def truth_of(made: MadeTake) -> str:
    """What really happened, a line a fault."""
    kinds = [f"{n.index} {n.outcome} at {n.onset_s}" for n in made.truth.notes
             if n.outcome != "played"]  # fmt: skip
    extra = [f"added {a.midi:.1f} at {a.onset_s:.2f} ({a.kind})" for a in made.truth.added]
    again = [f"again from {to} at {at:.2f}" for at, to in made.truth.restarts]
    return f"{made.name}\n  " + "\n  ".join(kinds + extra + again) + "\n"


def main() -> None:
    """Write the pictures and the truth."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("folder", type=Path)
    words.add_argument("--seed", type=int, default=1000)
    words.add_argument("--takes", type=int, default=10)
    words.add_argument("--kind", choices=("main", "restart", "clean"), default="main")
    words.add_argument("--families", default=",".join(FAMILIES))
    asked = words.parse_args()
    chosen = asked.families.split(",")
    turns = (number for number in count() if TURNS[number % len(TURNS)] in chosen)
    asked.folder.mkdir(parents=True, exist_ok=True)
    tones.fonts()
    lines.scores()
    truths = []
    for number in islice(turns, asked.takes):
        made = take(asked.seed, asked.kind, number)
        report = told_of(made.recording(), made.passage, made.line.tempo_qpm)
        picture(made, report, asked.folder / f"{asked.kind}-{number}.png")
        truths.append(truth_of(made))
    (asked.folder / "truth.txt").write_text("\n".join(truths), encoding="utf-8")


if __name__ == "__main__":
    main()
