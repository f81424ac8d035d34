"""What a figure was measured on, in one line."""

from __future__ import annotations

import os
import platform
from pathlib import Path


def machine() -> str:
    """Processor, cores, load and Python of this machine."""
    model = platform.machine()
    cpuinfo = Path("/proc/cpuinfo")
    if cpuinfo.exists():
        for line in cpuinfo.read_text().splitlines():
            if line.startswith("model name"):
                model = line.split(":", 1)[1].strip()
                break
    load = ", ".join(f"{value:.1f}" for value in os.getloadavg())
    return (
        f"{model}, {os.cpu_count()} cores, load {load}, "
        f"Python {platform.python_version()}, {platform.system()} {platform.release()}"
    )
