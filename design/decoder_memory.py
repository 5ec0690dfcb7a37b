"""How much memory opening and measuring one frame takes: behind ONE_FRAME_BYTES.

    python design/decoder_memory.py

Makes a raw file and a TIFF of 60 Mpx with one spot, opens and measures each in a process of its
own, and prints the most private memory (VmData) that process had. Linux. Found on two cores:
0.45 GB for lossless JPEG, 0.42 GB uncompressed, 0.87 GB for three planes of 16 bits; of these
0.2 GB are the libraries'.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np
import tifffile

from nightglass.scene.dng import write_dng

SHAPE = (6336, 9504)
POLL_S = 0.005


def main() -> None:
    if len(sys.argv) > 1:
        print(f"{Path(sys.argv[1]).name}: {_peak_mb(sys.argv[1])} MB")
        return
    with tempfile.TemporaryDirectory() as name:
        for file in _made(Path(name)):
            subprocess.run([sys.executable, __file__, str(file)], check=True)


def _made(folder: Path) -> list[Path]:
    rng = np.random.default_rng(1)
    rows = np.arange(-20, 21)
    samples = rng.normal(530, 12, SHAPE).round().astype(np.uint16)
    spot = 8000 * np.exp(-(rows[:, None] ** 2 + rows**2) / 18)
    samples[3000:3041, 4000:4041] += spot.astype(np.uint16)
    files = [folder / "packed.dng", folder / "plain.dng", folder / "planes.tif"]
    for file, packing in zip(files, ("lossless jpeg", "none"), strict=False):
        write_dng(file, samples, white_level=16383, pattern=[[0, 1], [1, 2]], black=512,
                  compression=packing, verify=False)  # fmt: skip
    tifffile.imwrite(files[2], np.repeat(samples[..., None], 3, axis=2))
    return files


def _peak_mb(file: str) -> int:
    from nightglass.frame.open import open_frame
    from nightglass.spot.measure import measure_frame, warm_up

    peaks, done = [0], threading.Event()

    def poll() -> None:
        while not done.is_set():
            peaks.append(_data_mb())
            time.sleep(POLL_S)

    warm_up()
    polling = threading.Thread(target=poll)
    polling.start()
    measure_frame(open_frame(file))
    done.set()
    polling.join()
    return max(peaks)


def _data_mb() -> int:
    found = re.search(r"VmData:\s+(\d+)", Path("/proc/self/status").read_text())
    return 0 if found is None else int(found[1]) // 1024


if __name__ == "__main__":
    main()
