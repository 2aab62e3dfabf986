"""How dear rendering is against bare encoding of the same pictures, in processor time.

Run: python benchmarks/filming.py [seconds of film]
Prints milliseconds of processor time a picture and the ratio to its named peer (libx264, preset
superfast, through PyAV), at 1280 x 720 along the demo's long take, and peak memory.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

from saltglaze.demo.renderer import Renderer
from saltglaze.demo.takes import long_take
from saltglaze.media.encode import FilmWriter
from saltglaze.media.film import Film


def main(seconds: float = 2.0) -> None:
    """Render, encode and read the same pictures, and print what each cost."""
    script = long_take().script
    renderer = Renderer(script)
    starts = (20.0, 60.0, 100.0, 170.0, 212.0, 250.0)
    for start in starts:  # paint the wall first: each metre is painted once in a film
        renderer.picture(start)
        renderer.picture(start + seconds)
    steps = [n / script.fps for n in range(round(seconds * script.fps))]
    begin = time.process_time()
    pictures = [renderer.picture(start + step) for start in starts for step in steps]
    rendering = (time.process_time() - begin) / len(pictures) * 1e3
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "film.mp4"
        begin = time.process_time()
        with FilmWriter(
            path,
            width_px=script.width_px,
            height_px=script.height_px,
            fps=script.fps,
            bitrate=script.bitrate,
            preset="superfast",
        ) as film:
            for number, picture in enumerate(pictures):
                film.picture(picture, number / script.fps)
        encoding = (time.process_time() - begin) / len(pictures) * 1e3
        begin = time.process_time()
        count = sum(1 for _ in Film(path).frames())
        reading = (time.process_time() - begin) / count * 1e3
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"pictures {len(pictures)}")
    print(f"rendering {rendering:.1f} ms a picture, {rendering / encoding:.2f} times encoding")
    print(f"encoding  {encoding:.1f} ms a picture (libx264 superfast)")
    print(f"reading   {reading:.1f} ms a picture, {reading / encoding:.2f} times encoding")
    print(f"peak memory {peak_mb:.0f} MB, pictures held by this script included")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 2.0)
