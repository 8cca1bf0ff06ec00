"""Makes the README's pictures again, from the example: the first page of its packet, its margins, and how a requirement came to read as it does.

  cargo build && target/venv/bin/python tests/pictures/make.py --slipmark target/debug/slipmark

Needs Chromium, and Pillow (`target/venv/bin/pip install pillow`): a picture is cut to what it shows and kept to 96 colours, so that it stays small.
The letters are those that the machine has, so another machine makes other bytes; what the pictures say is the same.
"""

import argparse
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

from PIL import Image, ImageChops

HERE = pathlib.Path(__file__).parent
# The day on which the tests ask, too.
TODAY = "2026-06-16"
QUIET = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --hide-scrollbars"
).split()
EDGE = 12
# All pictures together, so that a clone stays small.
MOST = 250_000


def shot(browser, page, name, size, folder):
    """What a page looks like, without the empty ground around it."""
    raw = folder / f"{name}.png"
    profile = tempfile.mkdtemp(dir=folder)
    width, height = size
    asked = [f"--user-data-dir={profile}", f"--screenshot={raw}", f"--window-size={width},{height}", page.as_uri()]
    subprocess.run([browser, *QUIET, *asked], check=True, stderr=subprocess.DEVNULL, timeout=120)
    picture = Image.open(raw).convert("RGB")
    ground = Image.new("RGB", picture.size, picture.getpixel((0, 0)))
    left, top, right, bottom = ImageChops.difference(picture, ground).getbbox()
    box = (max(left - EDGE, 0), max(top - EDGE, 0), min(right + EDGE, width), min(bottom + EDGE, height))
    out = HERE / f"{name}.png"
    picture.crop(box).quantize(96, dither=Image.Dither.NONE).save(out, optimize=True)
    return out


def picture_of(page, name):
    """One picture of a page, and its size."""
    found = re.search(rf'<svg xmlns[^>]*aria-labelledby="{name}-title .*?</svg>', page, re.DOTALL)
    return found[0], size_of(found[0])


def size_of(picture):
    """The size that a picture says it has."""
    return [round(float(one)) for one in re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', picture).groups()]


def main():
    """Makes all of them."""
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--slipmark", required=True, type=pathlib.Path)
    program = arguments.parse_args().slipmark.resolve()
    browser = next(filter(None, map(shutil.which, ["chromium", "chromium-browser", "google-chrome"])), None)
    if browser is None:
        sys.exit("there is no Chromium: apt-get install chromium")
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)

        def ask(*words, where=folder):
            return subprocess.run([program, *words], cwd=where, check=True, capture_output=True, text=True).stdout

        ask("demo", "demo")
        demo = folder / "demo"
        packet = ask("--today", TODAY, "packet", "hot-fire", "-o", "-", where=demo)
        page = folder / "packet.html"
        page.write_text(packet)
        made = [shot(browser, page, "packet", (1120, 808), folder)]
        margins, size = picture_of(packet, "margins")
        history = ask("history", "ACT-010", "--format", "svg", where=demo)
        for name, picture, size in [("margins", margins, size), ("history", history, size_of(history))]:
            page = folder / f"{name}.svg"
            page.write_text(picture)
            made.append(shot(browser, page, name, size, folder))
    total = sum(one.stat().st_size for one in made)
    for one in made:
        print(f"{one}  {one.stat().st_size} bytes")
    if total > MOST:
        sys.exit(f"together they have {total} bytes, and are to have no more than {MOST}")


if __name__ == "__main__":
    main()
