"""Reads PNG files with readers that know nothing of Burler and compares them with pixels kept beside them: NAME.png with
NAME.rgba8 or NAME.rgba16. Up to 8 bits the reader is Pillow; 16-bit pictures, of which Pillow keeps 8 bits, are read by
the rules of PNG third edition, 7 to 10, written out here with zlib and numpy. Checks the order and checksums of chunks.
Prints one line per file: name, color type, depth, and the chunks in order."""
import glob, struct, sys, zlib
import numpy as np
from PIL import Image


def chunks(data):
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    at, found = 8, []
    while at < len(data):
        length, name = struct.unpack(">I4s", data[at:at + 8])
        body = data[at + 8:at + 8 + length]
        (stored,) = struct.unpack(">I", data[at + 8 + length:at + 12 + length])
        assert stored == zlib.crc32(name + body), name
        found.append((name.decode(), body))
        at += 12 + length
    assert at == len(data)
    return found


def unfiltered(data, height, row_bytes, bpp):
    rows, above, at = [], np.zeros(row_bytes, int), 0
    for _ in range(height):
        kind, line = data[at], np.frombuffer(data[at + 1:at + 1 + row_bytes], np.uint8).astype(int)
        at += 1 + row_bytes
        row = np.zeros(row_bytes, int)
        for i in range(row_bytes):
            a = row[i - bpp] if i >= bpp else 0
            b = above[i]
            c = above[i - bpp] if i >= bpp else 0
            p = a + b - c
            distances = [(abs(p - a), 0, a), (abs(p - b), 1, b), (abs(p - c), 2, c)]
            guess = [0, a, b, (a + b) // 2, min(distances)[2]][kind]
            row[i] = (line[i] + guess) % 256
        rows.append(row.astype(np.uint8))
        above = row
    assert at == len(data), "data after the last row"
    return np.stack(rows)


def deep(data, found):
    width, height, depth, color, _, _, interlaced = struct.unpack(">IIBBBBB", found[0][1])
    assert depth == 16 and interlaced == 0
    channels = {0: 1, 2: 3, 4: 2, 6: 4}[color]
    raw = zlib.decompress(b"".join(body for name, body in found if name == "IDAT"))
    rows = unfiltered(raw, height, width * channels * 2, channels * 2)
    samples = rows.reshape(-1).view(">u2").reshape(height, width, channels).astype(np.uint16)
    alpha = samples[..., -1:] if color in (4, 6) else np.full((height, width, 1), 65535, np.uint16)
    colors = samples[..., :1].repeat(3, 2) if color in (0, 4) else samples[..., :3]
    return np.concatenate([colors, alpha], 2)


for path in sorted(glob.glob(sys.argv[1] + "/*.png")):
    data = open(path, "rb").read()
    found = chunks(data)
    names = [name for name, _ in found]
    assert names[0] == "IHDR" and names[-1] == "IEND", names
    first = names.index("IDAT")
    last = len(names) - 1 - names[::-1].index("IDAT")
    assert set(names[first:last + 1]) == {"IDAT"}, names
    # PNG third edition, 5.6: what must come before the image data, and what before the palette.
    before = {"pHYs", "gAMA", "cHRM", "sRGB", "iCCP", "cICP", "sBIT", "bKGD", "tRNS", "PLTE", "eXIf", "sPLT", "hIST"}
    assert not before & set(names[last:]), names
    if "PLTE" in names:
        palette = names.index("PLTE")
        assert not {"gAMA", "cHRM", "sRGB", "iCCP", "cICP", "sBIT"} & set(names[palette:]), names
        assert not {"bKGD", "tRNS", "hIST"} & set(names[:palette]), names
    for name in before | {"tIME"}:
        assert names.count(name) <= 1, names
    width, height, depth, color = struct.unpack(">IIBB", found[0][1][:10])
    base = path[:-4]
    if depth == 16:
        expected = np.fromfile(base + ".rgba16", "<u2").reshape(height, width, 4)
        assert (deep(data, found) == expected).all(), path
    else:
        expected = np.fromfile(base + ".rgba8", np.uint8).reshape(height, width, 4)
        with Image.open(path) as image:
            assert (np.asarray(image.convert("RGBA")) == expected).all(), path
    print(path.rsplit("/", 1)[1][:-4], color, depth, ",".join(name for name in names if name != "IDAT"))
