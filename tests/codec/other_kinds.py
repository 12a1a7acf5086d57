"""Writes JPEG, TIFF and WebP files of many kinds with Pillow and tifffile, beside their pixels as straight RGBA.
Prints one line per file: name, channels, depth, tolerance of one sample, resolution across and down (0: none), quantum,
frames, pages, lossy, profile."""
import io, struct, sys
import numpy as np
import tifffile
from PIL import Image, ImageCms

out = sys.argv[1]
rng = np.random.default_rng(7)
W, H = 37, 29
SRGB = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
NAME = ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(io.BytesIO(SRGB))).strip().replace(" ", "_")
x, y = np.meshgrid(np.arange(W), np.arange(H))
smooth = np.dstack([128 + 90 * np.sin(x / 9), 128 + 90 * np.cos(y / 7), 128 + 60 * np.sin((x + y) / 11)]).astype(np.uint8)
noise = rng.integers(0, 256, (H, W, 4), np.uint8)
noise[..., 3] = rng.choice([0, 1, 2, 100, 128, 200, 254, 255], (H, W))
deep = rng.integers(0, 65536, (H, W, 4), np.uint16)
deep[..., 3] = rng.choice([0, 1, 128, 129, 32768, 65406, 65534, 65535], (H, W))


def opaque(rgb, full=255):
    return np.dstack([rgb, np.full(rgb.shape[:2], full, rgb.dtype)])


def spread(gray):
    return np.dstack([gray] * 3)


def shallow(pixels):
    result = (pixels.astype(np.int64) * 510 + 65535) // 131070
    partial = (pixels[..., 3] > 0) & (pixels[..., 3] < 65535)
    result[..., 3] = np.where(partial, np.clip(result[..., 3], 1, 254), result[..., 3])
    return result.astype(np.uint8)


def tell(name, data, pixels, channels, depth=8, tolerance=0, dpi=(0, 0), quantum=0.0, frames=1, pages=1, lossy=0,
         profile="none"):
    with open(f"{out}/{name}", "wb") as handle:
        handle.write(data)
    if pixels.dtype == np.uint16:
        pixels.astype("<u2").tofile(f"{out}/{name}.rgba16")
        pixels = shallow(pixels)
    pixels.astype(np.uint8).tofile(f"{out}/{name}.rgba8")
    print(name, channels, depth, tolerance, dpi[0], dpi[1], quantum, frames, pages, lossy, profile)


def saved(image, format, **options):
    buffer = io.BytesIO()
    image.save(buffer, format, **options)
    return buffer.getvalue()


def seen(data):
    """Pillow's view, turned as Exif asks."""
    with Image.open(io.BytesIO(data)) as image:
        from PIL import ImageOps
        return np.asarray(ImageOps.exif_transpose(image).convert("RGBA"))


# JPEG. Decoders may differ by rounding and in how they blow up chroma.
rgb = Image.fromarray(smooth)
for name, tolerance, options in (
    ("plain.jpg", 3, dict(quality=95, subsampling=0)),
    ("halved.jpg", 6, dict(quality=95, subsampling=2)),
    ("passes.jpg", 3, dict(quality=90, subsampling=0, progressive=True)),
):
    data = saved(rgb, "JPEG", dpi=(300, 150), icc_profile=SRGB, **options)
    tell(name, data, seen(data), "rgb", tolerance=tolerance, dpi=(300, 150), quantum=0.5, lossy=1, profile=NAME)
data = saved(rgb.convert("L"), "JPEG", quality=95)
tell("gray.jpg", data, seen(data), "gray", tolerance=2, lossy=1)
data = saved(rgb, "JPEG", quality=95, subsampling=0, keep_rgb=True)
tell("kept-rgb.jpg", data, seen(data), "rgb", tolerance=2, lossy=1)
cmyk = Image.fromarray(np.dstack([smooth, smooth[..., 0] // 2]), "CMYK")
data = saved(cmyk, "JPEG", quality=95)
tell("inks.jpg", data, seen(data), "cmyk", tolerance=4, lossy=1)
# The same samples taken for luma and chroma: transform 2 of Adobe's marker.
at = data.index(b"Adobe") + 11
assert data[at] == 0
data = data[:at] + b"\x02" + data[at + 1:]
tell("inks-luma.jpg", data, seen(data), "cmyk", tolerance=4, lossy=1)
# JFIF unit 2: 118 per cm is the nearest whole number to 300 per inch (ITU-T T.871, 10.1).
data = saved(rgb, "JPEG", quality=95, subsampling=0)
at = data.index(b"JFIF\0") + 7
centimeter = data[:at] + b"\x02\x00\x76\x00\x76" + data[at + 5:]
tell("centimeter.jpg", centimeter, seen(centimeter), "rgb", tolerance=3, dpi=(299.72, 299.72), quantum=1.27, lossy=1)
exif = Image.Exif()
exif[282], exif[283], exif[296] = 240.0, 120.0, 2
data = saved(rgb, "JPEG", quality=95, subsampling=0, exif=exif)
tell("camera.jpg", data, seen(data), "rgb", tolerance=3, dpi=(240, 120), quantum=0.03, lossy=1)
for orientation in range(1, 9):
    exif = Image.Exif()
    exif[274], exif[282], exif[283], exif[296] = orientation, 240.0, 120.0, 2
    data = saved(rgb, "JPEG", quality=95, subsampling=0, exif=exif)
    dpi = (240, 120) if orientation < 5 else (120, 240)
    tell(f"turned{orientation}.jpg", data, seen(data), "rgb", tolerance=3, dpi=dpi, quantum=0.03, lossy=1)
    data = saved(Image.fromarray(noise), "WEBP", lossless=True, exact=True, exif=exif)
    tell(f"turned{orientation}.webp", data, seen(data), "rgba", dpi=dpi, quantum=0.03)
    # tifffile writes the tag as any other.
    buffer = io.BytesIO()
    tifffile.imwrite(buffer, noise[..., :3], photometric="rgb", extratags=[(274, 3, 1, orientation, True)])
    tell(f"turned{orientation}.tif", buffer.getvalue(), seen(buffer.getvalue()), "rgb", dpi=(0, 0))

# TIFF by Pillow and libtiff.
images = {
    "bits": (Image.fromarray(noise[..., 0]).convert("1"), "gray", 1),
    "gray": (Image.fromarray(noise[..., 0]), "gray", 8),
    "graya": (Image.fromarray(noise[..., [0, 3]].copy(), "LA"), "gray+alpha", 8),
    "rgb": (Image.fromarray(noise[..., :3].copy()), "rgb", 8),
    "rgba": (Image.fromarray(noise), "rgba", 8),
    "inks": (Image.fromarray(noise, "CMYK"), "cmyk", 8),
    "palette": (Image.fromarray(noise[..., :3].copy()).quantize(200), "palette", 8),
}
for kind, (image, channels, depth) in images.items():
    for method in (None, "tiff_lzw", "tiff_adobe_deflate", "packbits"):
        name = f"{kind}-{method or 'raw'}.tif"
        data = saved(image, "TIFF", compression=method, dpi=(300, 200), icc_profile=SRGB)
        pixels = np.asarray(image.convert("RGBA"))
        # Ink to light is rounded by one more or less.
        tell(name, data, pixels, channels, depth, 1 if kind == "inks" else 0, (300, 200), 0.03, profile=NAME)
for kind in ("gray", "rgb"):
    data = saved(images[kind][0].resize((48, 32)).filter(__import__("PIL.ImageFilter").ImageFilter.GaussianBlur(3)), "TIFF",
                 compression="jpeg", quality=95)
    tell(f"{kind}-jpeg.tif", data, seen(data), kind, tolerance=6, lossy=1)
data = saved(images["rgb"][0], "TIFF", save_all=True, append_images=[images["gray"][0], images["rgba"][0]])
tell("pages.tif", data, seen(data), "rgb", pages=3)

# TIFF by tifffile: what Pillow does not write.
associated = noise.copy()
associated[..., :3] = (noise[..., :3].astype(int) * noise[..., 3:] + 127) // 255
straight = noise.copy()
for c in range(3):
    a = associated[..., 3].astype(int)
    straight[..., c] = np.where(a > 0, np.minimum(255, (associated[..., c].astype(int) * 255 + a // 2) // np.maximum(a, 1)), 0)
deep_associated = deep.copy()
deep_associated[..., :3] = (deep[..., :3].astype(np.int64) * deep[..., 3:] + 32767) // 65535
deep_straight = deep.copy()
for c in range(3):
    a = deep_associated[..., 3].astype(np.int64)
    v = (deep_associated[..., c].astype(np.int64) * 65535 + a // 2) // np.maximum(a, 1)
    deep_straight[..., c] = np.where(a > 0, np.minimum(65535, v), 0)
cm = dict(resolution=(118.11, 118.11), resolutionunit=3)
for order in "<>":
    for big in (False, True):
        end = f"-{'little' if order == '<' else 'big'}{'-wide' if big else ''}.tif"
        for planar in ("contig", "separate"):
            for tile in (None, (16, 32)):
                for method in (None, "zlib"):
                    end2 = f"-{planar}-{'tiles' if tile else 'strips'}-{method}{end}"
                    rows = None if tile else 8

                    def write(name, array, expected, channels, depth, **options):
                        buffer = io.BytesIO()
                        data = array if planar == "contig" else np.moveaxis(array, -1, 0)
                        with tifffile.TiffWriter(buffer, bigtiff=big, byteorder=order) as writer:
                            writer.write(data, planarconfig=planar, tile=tile, compression=method, rowsperstrip=rows, **cm,
                                         **options)
                        tell(name + end2, buffer.getvalue(), expected, channels, depth, 0, (299.9994, 299.9994), 0.03)

                    write("a-rgb8", noise[..., :3], opaque(noise[..., :3]), "rgb", 8, photometric="rgb")
                    write("a-rgba8", noise, noise, "rgba", 8, photometric="rgb", extrasamples=["unassalpha"])
                    write("a-assoc8", associated, straight, "rgba", 8, photometric="rgb", extrasamples=["assocalpha"])
                    write("a-rgbx8", noise, opaque(noise[..., :3]), "rgb", 8, photometric="rgb",
                          extrasamples=["unspecified"])
                    write("a-rgb16", deep[..., :3], opaque(deep[..., :3], 65535), "rgb", 16, photometric="rgb")
                    write("a-rgba16", deep, deep, "rgba", 16, photometric="rgb", extrasamples=["unassalpha"])
                    write("a-assoc16", deep_associated, deep_straight, "rgba", 16, photometric="rgb",
                          extrasamples=["assocalpha"])
        buffer = io.BytesIO()
        with tifffile.TiffWriter(buffer, bigtiff=big, byteorder=order) as writer:
            writer.write(deep[..., 0], photometric="miniswhite")
        gray = 65535 - deep[..., 0]
        tell("a-white16" + end, buffer.getvalue(), opaque(spread(gray), 65535), "gray", 16)

# WebP.
data = saved(Image.fromarray(noise), "WEBP", lossless=True, exact=True, icc_profile=SRGB)
tell("lossless.webp", data, noise, "rgba", profile=NAME)
data = saved(Image.fromarray(noise[..., :3].copy()), "WEBP", lossless=True)
tell("lossless-rgb.webp", data, opaque(noise[..., :3]), "rgb")
data = saved(rgb, "WEBP", quality=95)
tell("lossy.webp", data, seen(data), "rgb", tolerance=4, lossy=1)
faded = np.dstack([smooth, noise[..., 3]])
data = saved(Image.fromarray(faded), "WEBP", quality=95, exact=True)
tell("lossy-alpha.webp", data, seen(data), "rgba", tolerance=4, lossy=1)
data = saved(Image.fromarray(noise), "WEBP", lossless=True, exact=True, save_all=True,
             append_images=[Image.fromarray(noise[::-1].copy()), Image.fromarray(noise[:, ::-1].copy())], duration=100)
tell("moving.webp", data, seen(data), "rgba", frames=3)
exif = Image.Exif()
exif[282], exif[283], exif[296] = 300.0, 300.0, 2
data = saved(rgb, "WEBP", lossless=True, exif=exif)
tell("tagged.webp", data, opaque(smooth), "rgb", dpi=(300, 300), quantum=0.03)
