"""Writes one small PNG of every color type, depth, interlacing and kind of clear color, by the standard's own rules and
nothing but zlib, beside its pixels as 8-bit and 16-bit straight RGBA. Up to 8 bits the pixels are checked with Pillow.
Prints one line per picture: name, channels, depth, interlaced, width, height."""
import io, struct, sys, zlib
import numpy as np
from PIL import Image

out = sys.argv[1]
rng = np.random.default_rng(20)
CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
DEPTHS = {0: (1, 2, 4, 8, 16), 2: (8, 16), 3: (1, 2, 4, 8), 4: (8, 16), 6: (8, 16)}
NAMES = {0: "gray", 2: "rgb", 3: "palette", 4: "gray+alpha", 6: "rgba"}
# PNG third edition, 8.1: first column, first row, steps across and down.
PASSES = [(0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2)]


def chunk(name, data):
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def packed(row, depth):
    if depth == 16:
        return row.astype(">u2").tobytes()
    if depth == 8:
        return row.astype(np.uint8).tobytes()
    bits = ((row[:, None] >> np.arange(depth - 1, -1, -1)) & 1).astype(np.uint8)
    return np.packbits(bits).tobytes()


def filtered(rows, bpp):
    """Each row with a filter type of its own, in turn (PNG third edition, 9.2)."""
    result, above = b"", None
    for index, row in enumerate(rows):
        cur = np.frombuffer(row, np.uint8).astype(int)
        up = np.zeros_like(cur) if above is None else above
        left = np.concatenate([np.zeros(bpp, int), cur])[: len(cur)]
        corner = np.concatenate([np.zeros(bpp, int), up])[: len(cur)]
        p = left + up - corner
        pa, pb, pc = abs(p - left), abs(p - up), abs(p - corner)
        paeth = np.where((pa <= pb) & (pa <= pc), left, np.where(pb <= pc, up, corner))
        kind = index % 5
        guess = [0 * cur, left, up, (left + up) // 2, paeth][kind]
        result += bytes([kind]) + ((cur - guess) % 256).astype(np.uint8).tobytes()
        above = cur
    return result


def write(name, color, depth, interlaced, width, height, clear):
    top = (1 << depth) - 1
    shape = (height, width, CHANNELS[color])
    samples = rng.integers(0, top + 1, shape)
    # The ends of the range and their neighbors must occur.
    if depth == 16 and color in (4, 6):
        samples[..., -1] = rng.choice([0, 1, 2, 128, 129, 32768, 65406, 65533, 65534, 65535], shape[:2])
    palette = alphas = None
    chunks = []
    if color == 3:
        palette = rng.integers(0, 256, (top + 1, 3))
        chunks.append(chunk(b"PLTE", palette.astype(np.uint8).tobytes()))
        if clear:
            # Shorter than the palette: missing entries are opaque.
            alphas = rng.integers(0, 256, max(1, (top + 1) * 2 // 3))
            alphas[0] = 100
            chunks.append(chunk(b"tRNS", alphas.astype(np.uint8).tobytes()))
    single = None
    if clear and color in (0, 2):
        single = samples[height // 2, width // 2].copy()
        # A near miss in the low byte must not be taken for the clear color.
        if depth == 16:
            samples[0, 0] = single ^ 1
        chunks.append(chunk(b"tRNS", b"".join(struct.pack(">H", int(v)) for v in single)))
    bpp = max(1, CHANNELS[color] * depth // 8)
    flat = lambda part: [packed(row.reshape(-1), depth) for row in part]
    if interlaced:
        parts = [samples[y::dy, x::dx] for x, y, dx, dy in PASSES]
        data = b"".join(filtered(flat(part), bpp) for part in parts if part.size)
    else:
        data = filtered(flat(samples), bpp)
    packed_data = zlib.compress(data)
    cut = len(packed_data) // 3
    header = struct.pack(">IIBBBBB", width, height, depth, color, 0, 0, int(interlaced))
    file = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + b"".join(chunks)
    file += chunk(b"IDAT", packed_data[:cut]) + chunk(b"IDAT", packed_data[cut:]) + chunk(b"IEND", b"")

    # The reference pixels, in the file's own depth.
    if color == 3:
        rgb = palette[samples[..., 0]]
        full = np.concatenate([alphas, np.full(top + 1 - len(alphas), 255)]) if clear else np.full(top + 1, 255)
        rgba, scale = np.dstack([rgb, full[samples[..., 0]]]), 255
    else:
        color_part = samples[..., :1].repeat(3, 2) if color in (0, 4) else samples[..., :3]
        alpha = samples[..., -1] if color in (4, 6) else np.full(shape[:2], top)
        if single is not None:
            alpha = np.where((samples == single).all(2), 0, top)
        rgba, scale = np.dstack([color_part, alpha]), top
    shallow = (rgba * 255 * 2 + scale) // (2 * scale)
    partial = (rgba[..., 3] > 0) & (rgba[..., 3] < scale)
    shallow[..., 3] = np.where(partial, np.clip(shallow[..., 3], 1, 254), shallow[..., 3])

    if depth <= 8:
        with Image.open(io.BytesIO(file)) as image:
            # Pillow compares a clear gray of fewer than 8 bits with scaled samples, so it is no witness there.
            if not (color == 0 and clear and depth < 8):
                assert (np.asarray(image.convert("RGBA")) == shallow).all(), name
    with open(f"{out}/{name}.png", "wb") as handle:
        handle.write(file)
    shallow.astype(np.uint8).tofile(f"{out}/{name}.rgba8")
    if depth == 16:
        rgba.astype("<u2").tofile(f"{out}/{name}.rgba16")
    channels = NAMES[color] + ("+alpha" if clear and color in (0, 3) else "")
    channels = "rgba" if clear and color == 2 else channels
    print(name, channels, depth, int(interlaced), width, height)


for color, depths in DEPTHS.items():
    for depth in depths:
        for interlaced in (False, True):
            for clear in (False, True) if color in (0, 2, 3) else (False,):
                # Sides that fill no byte, leave passes empty, and are larger than the passes' steps.
                for width, height in ((1, 1), (3, 5), (13, 11), (32, 32)):
                    mark = "i" if interlaced else "n"
                    name = f"{NAMES[color]}{depth}{mark}{'t' if clear else ''}-{width}x{height}"
                    write(name, color, depth, interlaced, width, height, clear)
