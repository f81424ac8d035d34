"""The sound of an opened recording, packet by packet, for the children that decode."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

HIGHEST_RATE_HZ = 48_000
"""Faster recordings are resampled to this; nothing above 20 kHz is read."""

MOST_BROKEN_PACKETS = 20
"""After so many undecodable packets the rest of a file is given up (our choice)."""


@dataclass(slots=True, eq=False)
class Packets:
    """The sound of each packet of ``stream`` as float planes ``(channels, samples)``.

    A packet that cannot be decoded is left out and counted in ``broken``. ``rate_hz`` is that of
    the planes: where none is given, that of the first frame, and 0 before it.
    """

    container: Any
    stream: Any
    av: Any
    rate_hz: int = 0
    broken: int = 0

    def __iter__(self) -> Iterator[list[np.ndarray]]:
        """The planes packet by packet, and what the resampler held back last of all."""
        resampler = None
        for frames in self._frames():
            planes = []
            for frame in frames:
                if resampler is None:
                    self.rate_hz = self.rate_hz or min(frame.sample_rate, HIGHEST_RATE_HZ)
                    resampler = self.av.AudioResampler("fltp", frame.layout, self.rate_hz)
                planes += [same.to_ndarray() for same in resampler.resample(frame)]
            yield planes
        if resampler is not None:
            yield [rest.to_ndarray() for rest in resampler.resample(None)]

    def _frames(self) -> Iterator[list[Any]]:
        """The decoded frames of each packet that can be decoded."""
        packets = self.container.demux(self.stream)
        while self.broken <= MOST_BROKEN_PACKETS:
            try:
                frames = next(packets).decode()
            except StopIteration:
                return
            except self.av.FFmpegError:
                self.broken += 1
            else:
                yield frames
