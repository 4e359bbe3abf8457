"""What scripts measure of their own process; shared by the benchmarks."""

from __future__ import annotations

import ctypes
import sys
from pathlib import Path

MEBI = 1024 * 1024


def peak_mb() -> float:
    """Most memory that this process had so far, in MB; NaN where the system tells none.

    On Linux a process started by a large one inherits its mark in ``ru_maxrss``, so the
    kernel's own mark for this program is read where there is one.
    """
    status = Path("/proc/self/status")
    if status.exists():
        for line in status.read_text(encoding="ascii", errors="replace").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) / 1024
    if sys.platform == "win32":
        return _peak_mb_windows()
    try:
        import resource
    except ImportError:
        return float("nan")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (MEBI if sys.platform == "darwin" else 1024)


class _Counters(ctypes.Structure):
    """PROCESS_MEMORY_COUNTERS of the Windows API (psapi.h)."""

    _fields_ = (
        ("size", ctypes.c_uint32),
        ("page_faults", ctypes.c_uint32),
        *((name, ctypes.c_size_t) for name in (
            "peak_working_set", "working_set", "peak_paged_pool", "paged_pool",
            "peak_nonpaged_pool", "nonpaged_pool", "pagefile", "peak_pagefile")),
    )  # fmt: skip


def _peak_mb_windows() -> float:
    counters = _Counters(size=ctypes.sizeof(_Counters))
    kernel = ctypes.WinDLL("kernel32")  # type: ignore[attr-defined]
    kernel.GetCurrentProcess.restype = ctypes.c_void_p
    asked = kernel.K32GetProcessMemoryInfo(
        ctypes.c_void_p(kernel.GetCurrentProcess()), ctypes.byref(counters), counters.size
    )
    return counters.peak_working_set / MEBI if asked else float("nan")
