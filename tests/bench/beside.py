"""Mending beside general-purpose libraries, by hand: python3 beside.py BURLER [--plain] FILES

BURLER is the program (`cargo build --release`), FILES are RGBA tiles as PNG. Into a copy of each a see-through cross is laid,
two pixels wide, alpha 100 (with --plain the files are taken as they are). Then `burler mend`, which proves what it writes,
and each library that this Python can import (Pillow, libvips by pyvips, OpenCV) mend it in turn, as whole processes on one
processor; a library composites the layer over itself eight times, which is how it is done by hand, and proves nothing. Printed are
medians of processor seconds, the ratio pair by pair, the size of what was written against the original, its pixels that are
not opaque, and those that are not the original's outside the cross.
"""
import os
import statistics
import subprocess
import sys
import tempfile

ROUNDS = 5
PEERS = {
    "Pillow": """
import sys
from PIL import Image
image = Image.open(sys.argv[1]).convert("RGBA")
out = image
for _ in range(8):
    out = Image.alpha_composite(out, image)
out.save(sys.argv[2])
""",
    "libvips": """
import sys, pyvips
image = pyvips.Image.new_from_file(sys.argv[1]).copy_memory()
image.composite([image] * 8, ["over"] * 8).rint().cast(image.format).write_to_file(sys.argv[2])
""",
    "OpenCV": """
import sys, cv2, numpy
image = cv2.imread(sys.argv[1], cv2.IMREAD_UNCHANGED)
clear = (255 - numpy.arange(256)) / 255
image[..., 3] = numpy.rint(255 * (1 - clear ** 9)).astype(numpy.uint8)[image[..., 3]]
cv2.imwrite(sys.argv[2], image)
""",
}
MODULES = {"Pillow": "PIL", "libvips": "pyvips", "OpenCV": "cv2"}


def seconds(command):
    """Processor seconds of a whole process and of those it waited for, by the system's own account (wait4(2))."""
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    return usage.ru_utime + usage.ru_stime, child.returncode


def samples(path):
    import numpy
    from PIL import Image

    Image.MAX_IMAGE_PIXELS = None
    return numpy.array(Image.open(path).convert("RGBA"))


def crossed(path, out):
    from PIL import Image

    tile = samples(path)
    height, width = tile.shape[:2]
    tile[height // 3 : height // 3 + 2, :, 3] = 100
    tile[:, width // 3 : width // 3 + 2, 3] = 100
    Image.fromarray(tile).save(out)


def what_is_left(original, path):
    was, now = samples(original), samples(path)
    touched = was[..., 3] < 255
    outside = (was != now).any(axis=2) & ~touched
    return int((now[..., 3] < 255).sum()), int(outside.sum())


def compare(burler, tile, folder, name):
    ours = os.path.join(folder, "checked")
    first = [burler, "mend", "--force", "--ground", "opaque", "--repeat", "none", "--output", ours, tile]
    size = os.path.getsize(tile)
    print(f"{name}: {size / 1e6:.2f} MB")
    _, status = seconds(first)
    written = os.path.join(ours, "ready", os.path.basename(tile))
    if status == 0 and os.path.exists(written):
        see_through, outside = what_is_left(tile, written)
        share = os.path.getsize(written) / size
        print(f"  Burler{share:10.2f} of the original's size, {see_through} px see-through, {outside} px changed outside")
    else:
        print(f"  Burler writes nothing (status {status})")
    for peer, code in PEERS.items():
        if subprocess.run([sys.executable, "-c", f"import {MODULES[peer]}"], capture_output=True).returncode:
            print(f"  {peer} is not here, so not compared")
            continue
        out = os.path.join(folder, peer + ".png")
        second = [sys.executable, "-c", code, tile, out]
        seconds(second)
        pairs = [(seconds(first)[0], seconds(second)[0]) for _ in range(ROUNDS)]
        see_through, outside = what_is_left(tile, out)
        a, b = (statistics.median(side) for side in zip(*pairs))
        ratio = statistics.median(b / a for a, b in pairs)
        share = os.path.getsize(out) / size
        print(
            f"  {peer:8}{share:8.2f} of the original's size, {see_through} px see-through, {outside} px changed outside;"
            f" {b:.3f} s against Burler's {a:.3f} s: {ratio:.2f} times"
        )


def main():
    words = [word for word in sys.argv[1:] if word != "--plain"]
    if len(words) < 2:
        sys.exit(__doc__)
    os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})
    for path in words[1:]:
        with tempfile.TemporaryDirectory() as folder:
            tile = os.path.join(folder, os.path.basename(path))
            if "--plain" in sys.argv:
                os.symlink(os.path.abspath(path), tile)
            else:
                crossed(path, tile)
            compare(words[0], tile, folder, os.path.basename(path))


main()
