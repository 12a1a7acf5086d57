"""Draws the tiles of the command and daemon tests into the folder given: sound ones, ones to mend, ones to hold, bad ones."""

import os
import struct
import sys
import zlib

import numpy as np
from PIL import Image

out = os.fsencode(sys.argv[1])
N = 120


def place(name):
    path = os.path.join(out, os.fsencode(name))
    os.makedirs(os.path.dirname(path), exist_ok=True)
    return path


def write(name, data):
    with open(place(name), "wb") as file:
        file.write(data)


class Dice:
    """A small generator whose sequence is the same in every version of every library."""

    def __init__(self, seed):
        self.state = seed * 2654435761 + 97

    def below(self, n):
        self.state = (self.state * 6364136223846793005 + 1442695040888963407) % 2**64
        return (self.state >> 33) % n

    def color(self):
        return [self.below(256) for _ in range(3)]


def pebbles(seed, n=N):
    """Round pebbles on flat sand, laid on a torus, so that every edge meets its opposite."""
    dice = Dice(seed)
    y, x = np.mgrid[0:n, 0:n]
    art = np.zeros((n, n, 3), np.uint8) + np.array(dice.color(), np.uint8)
    for _ in range(12):
        cx, cy, r = dice.below(n), dice.below(n), n // 16 + dice.below(n // 10)
        dx = np.minimum((x - cx) % n, (cx - x) % n)
        dy = np.minimum((y - cy) % n, (cy - y) % n)
        art[dx * dx + dy * dy < r * r] = dice.color()
    return art


def sand(n):
    """Every pixel a color of its own, which no compression makes small."""
    dice = Dice(77)
    noise = np.frombuffer(b"".join(struct.pack("<I", dice.below(2**32)) for _ in range(n * n)), np.uint8)
    return 96 + noise.reshape(n, n, 4)[:, :, :3] // 8


def with_alpha(art, alpha=255):
    return np.dstack([art, np.full(art.shape[:2], alpha, np.uint8)])


def with_hairline(seed, row, alpha=128, n=N):
    art = with_alpha(pebbles(seed, n))
    art[row : row + 2, :, 3] = alpha
    return art


def save(name, art, per_inch=300, **words):
    if per_inch:
        words["dpi"] = (per_inch, per_inch)
    Image.fromarray(art).save(place(name).decode(), **words)


def cut(seed, n=N):
    """The upper left part of a larger tile: both edges cut through pebbles."""
    return pebbles(seed, n * 3 // 2)[:n, :n]


# Sound.
save("kelp.png", pebbles(1))
save("kelp.jpg", pebbles(5), quality=95)
save("kelp.tif", pebbles(6))
save("kelp.webp", pebbles(7), None, lossless=True)
y, x = np.mgrid[0:N, 0:N]
fog = with_alpha(pebbles(4))
fog[:, :, 3] = np.clip(300 - 6 * np.hypot(x - N // 2, y - N // 2), 0, 255)
save("fog.png", fog)
save("sand.png", sand(300))
for number in range(10):
    save(f"pebbles-{number}.png", pebbles(20 + number, 64))

# To be mended.
save("dulse.png", with_hairline(2, 59))
save("dulse.tif", with_hairline(8, 40))
save("dulse.webp", with_hairline(8, 40), None, lossless=True, exact=True)
save("coarse.png", pebbles(1), 72)
# With all of the color, since readers spread thinned color differently.
save("coarse.jpg", pebbles(5), 72, quality=95, subsampling=0)
save("coarse.tif", pebbles(6), 72)

# To be held.
save("limpet.png", cut(3))
save("limpet.jpg", cut(3), quality=95)
two = [Image.fromarray(pebbles(seed)) for seed in (1, 2)]
line = [Image.fromarray(with_hairline(seed, 59)) for seed in (2, 8)]
for name, words in {"moving.png": {}, "moving.webp": {"lossless": True}, "pages.tif": {}}.items():
    two[0].save(place(name).decode(), save_all=True, append_images=two[1:], dpi=(300, 300), **words)
line[0].save(place("moving-dulse.png").decode(), save_all=True, append_images=line[1:], dpi=(300, 300))
inks = Image.fromarray(pebbles(5)).convert("CMYK")
inks.save(place("inks.jpg").decode(), quality=95, dpi=(300, 300))
inks.save(place("inks.tif").decode(), dpi=(300, 300))
inks.save(place("coarse-inks.tif").decode(), dpi=(72, 72))

# Bad.
SIGNATURE = b"\x89PNG\r\n\x1a\n"


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width, height, data, before=b""):
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return SIGNATURE + chunk(b"IHDR", header) + before + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def row(width, height):
    return zlib.compress(bytes((width * 3 + 1) * height), 6)


def gigabytes_of_zeros(count):
    """A zlib stream put together from one flushed block, since compressing so much takes seconds."""
    size = 1 << 20
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    block = packer.compress(bytes(size)) + packer.flush(zlib.Z_FULL_FLUSH)
    adler = (size * 1024 * count % 65521) << 16 | 1
    return b"\x78\x9c" + block * (1024 * count) + b"\x03\x00" + struct.pack(">I", adler)


with open(place("kelp.png"), "rb") as file:
    good = file.read()
write("bad/empty.png", b"")
write("bad/shopping-list.png", b"nets, floats, rope\n")
for bytes_left in (1, 8, 20, 33, len(good) // 2, len(good) - 12, len(good) - 4, len(good) - 1):
    write(f"bad/cut-{bytes_left if bytes_left < 100 else bytes_left - len(good)}.png", good[:bytes_left])
write("bad/wide.png", png(100_000, 100_000, row(1, 1)))
write("bad/many.png", png(20_000, 20_000, row(20_000, 1)))
write("bad/bomb-of-pixels.png", png(64, 64, gigabytes_of_zeros(2)))
write("bad/bomb-of-text.png", png(64, 64, row(64, 64), chunk(b"zTXt", b"Comment\0\0" + gigabytes_of_zeros(2))))
write("bad/no-deflate.png", png(64, 64, b"kelp, dulse, limpets"))
write("bad/flipped.png", good[:200] + bytes([good[200] ^ 1]) + good[201:])
for name in ("kelp.jpg", "kelp.tif", "kelp.webp"):
    with open(place(name), "rb") as file:
        whole = file.read()
    write(f"bad/{name.replace('kelp', 'half')}", whole[: len(whole) // 2])

# Large in pixels: more than a small allowance of memory or time has room for.
write("big/flat.png", png(9000, 9000, row(9000, 9000)))
