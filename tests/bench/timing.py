"""How long one run of a command takes, and how much memory it needs."""

import os
import resource
import subprocess
import sys
import time


def once(command, folder):
    """(milliseconds, peak memory in MB of that one child)."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:  # a process of its own, so that the peak is this command's and no earlier one's
        start = time.perf_counter()
        done = subprocess.run(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)
        spent = (time.perf_counter() - start) * 1000
        peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        os.write(write, f"{spent} {peak} {done.returncode}".encode())
        os._exit(0)
    os.close(write)
    os.waitpid(child, 0)
    with os.fdopen(read) as pipe:
        spent, peak, code = pipe.read().split()
    if int(code) not in (0, 1):
        sys.exit(f"{' '.join(command)}: exit {code}")
    return float(spent), float(peak)


def in_turn(commands, folder, runs):
    """The times and the peak memory of several commands, by name.

    They take turns, so that whatever else the machine does meets all of them; the first turn warms the caches and does not count.
    """
    times, peaks = {name: [] for name in commands}, dict.fromkeys(commands, 0.0)
    for turn in range(runs + 1):
        for name, command in commands.items():
            spent, peak = once(command, folder)
            if turn:
                times[name].append(spent)
            peaks[name] = max(peaks[name], peak)
    return times, peaks
